package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaugebook/server/trust"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// httpsHouse serves a new book with the house's own root, in this process, until
// the test ends.
func httpsHouse(t *testing.T, folder string, args ...string) (words, at string) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	words, at = httpsHouseUntil(t, ctx, folder, args...)
	t.Cleanup(stop) // last in, first out: before it is waited for
	return words, at
}

// httpsHouseUntil is the same until a context ends.
func httpsHouseUntil(t *testing.T, ctx context.Context, folder string, args ...string) (words, at string) {
	t.Helper()
	read, write := io.Pipe()
	done := make(chan error, 1)
	go func() {
		err := run(ctx, append([]string{"serve", "--book", filepath.Join(folder, "book.db"), "--listen", "127.0.0.1:0", "--https", "--join-listen", "127.0.0.1:0", "--name", "stillhouse.local"}, args...),
			strings.NewReader(""), write, io.Discard)
		write.CloseWithError(err)
		done <- err
	}()
	t.Cleanup(func() { assert.NoError(t, <-done) })
	var said bytes.Buffer
	buf := make([]byte, 4096)
	for !strings.Contains(said.String(), "listening on") {
		n, err := read.Read(buf)
		require.NoError(t, err, said.String())
		said.Write(buf[:n])
	}
	words = said.String()
	port := regexp.MustCompile(`listening on https://stillhouse\.local:(\d+)\n`).FindStringSubmatch(words)
	require.NotNil(t, port, words)
	return words, "127.0.0.1:" + port[1]
}

// browse is a client that trusts a root and finds the name here.
func browse(root *x509.Certificate, at string) *http.Client {
	roots := x509.NewCertPool()
	roots.AddCert(root)
	return &http.Client{Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true,
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "tcp", at)
		},
	}}
}

func body(t *testing.T, c *http.Client, url string) (*http.Response, string) {
	t.Helper()
	res, err := c.Get(url)
	require.NoError(t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res, string(b)
}

// The first start: root, leaf, sheet; the plain listener gives the sheet and
// nothing of the book; a phone that trusts what the sheet gave opens the book.
func TestFirstStartOnTheNetwork(t *testing.T) {
	folder := t.TempDir()
	words, at := httpsHouse(t, folder)
	assert.Contains(t, words, "this house has a new root certificate")
	assert.Contains(t, words, "an owner's phone joins with the code")
	sheet := regexp.MustCompile(`join sheet, (http://127\.0\.0\.1:\d+)/join\n`).FindStringSubmatch(words)
	require.NotNil(t, sheet, words)

	res, page := body(t, http.DefaultClient, sheet[1]+"/")
	assert.Equal(t, 200, res.StatusCode, "the plain address leads to the sheet")
	for _, part := range []string{"https://stillhouse.local:", "Certificate Trust Settings", "Add to Home Screen", "CA certificate", "certutil", "<path d=\"M", "A borrowed phone"} {
		assert.Contains(t, page, part)
	}
	assert.NotContains(t, page, "ZgotmplZ")
	print := regexp.MustCompile(`SHA-256 is ([0-9A-F ]+)\n`).FindStringSubmatch(words)[1]
	assert.Contains(t, strings.ReplaceAll(page, "<br>", " "), print[:23])
	assert.Contains(t, res.Header.Get("Content-Security-Policy"), "connect-src 'self' https://stillhouse.local:")

	res, given := body(t, http.DefaultClient, sheet[1]+"/join/gaugebook-root.crt")
	assert.Equal(t, "application/x-x509-ca-cert", res.Header.Get("Content-Type"))
	block, _ := pem.Decode([]byte(given))
	require.NotNil(t, block)
	root, err := x509.ParseCertificate(block.Bytes)
	require.NoError(t, err)
	assert.Equal(t, print, trust.Fingerprint(root))
	res, _ = body(t, http.DefaultClient, sheet[1]+"/join/gaugebook.mobileconfig")
	assert.Equal(t, "application/x-apple-aspen-config", res.Header.Get("Content-Type"))
	for _, path := range []string{"/healthz", "/sync/v1/pull", "/app/", "/sw.js", "/devices/v1"} {
		res, text := body(t, http.DefaultClient, sheet[1]+path)
		assert.Equal(t, 404, res.StatusCode, path)
		assert.Contains(t, text, "Only the join sheet is given without encryption")
	}

	phone := browse(root, at)
	app := "https://stillhouse.local:" + at[len("127.0.0.1:"):]
	res, _ = body(t, phone, app+"/healthz")
	assert.Equal(t, 200, res.StatusCode)
	assert.Equal(t, 2, res.ProtoMajor, "HTTP/2")
	res, _ = body(t, phone, app+"/trusted")
	assert.Equal(t, "cross-origin", res.Header.Get("Cross-Origin-Resource-Policy"), "the sheet's page may see that it is answered")
	res, _ = body(t, phone, app+"/join")
	assert.Equal(t, 200, res.StatusCode, "the office shows the sheet, too")
	var refused *tls.CertificateVerificationError
	_, err = phone.Get("https://bank.example/")
	require.ErrorAs(t, err, &refused, "another name")
	other, _, err := trust.Open(t.TempDir(), []string{"stillhouse.local"}, time.Now())
	require.NoError(t, err)
	_, err = browse(other.Cert, at).Get(app)
	require.ErrorAs(t, err, &refused, "another house's root")

	out, err := prompt(t, "doctor", "--book", filepath.Join(folder, "book.db"), "--at", at, app)
	require.NoError(t, err, out)
	assert.Contains(t, out, "nothing of this would be refused")
	out, err = prompt(t, "doctor", "--book", filepath.Join(folder, "book.db"), "--at", at, "https://other.local")
	assert.ErrorIs(t, err, errAnswered)
	assert.Contains(t, out, "refused by every phone: the certificate is for stillhouse.local, 127.0.0.1")
	out, err = prompt(t, "doctor", "--book", filepath.Join(t.TempDir(), "book.db"), "--at", at, app)
	assert.ErrorIs(t, err, errAnswered)
	assert.Contains(t, out, "neither this house's root nor known to this machine")
	out, err = prompt(t, "doctor", "http://stillhouse.local")
	assert.ErrorIs(t, err, errAnswered)
	assert.Contains(t, out, "no service worker")
}

func TestRootKeyIsInNoBackup(t *testing.T) {
	folder := t.TempDir()
	httpsHouse(t, folder)
	_, err := prompt(t, "backup", "--book", filepath.Join(folder, "book.db"), filepath.Join(folder, "copy.db"))
	require.NoError(t, err)
	key, err := os.ReadFile(filepath.Join(folder, "gaugebook-root.key"))
	require.NoError(t, err)
	secret := strings.Split(string(key), "\n")[1]
	require.NotEmpty(t, secret)
	looked := 0
	require.NoError(t, filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == "gaugebook-root.key" {
			return err
		}
		looked++
		raw, err := os.ReadFile(path)
		assert.NotContains(t, string(raw), secret, path)
		return err
	}))
	assert.Greater(t, looked, 2)
}

func TestDoctorLooksAtTheRootBesideTheBook(t *testing.T) {
	folder := t.TempDir()
	_, _, err := trust.Open(folder, []string{"stillhouse.local"}, time.Now())
	require.NoError(t, err)
	out, err := prompt(t, "doctor", "--book", filepath.Join(folder, "book.db"))
	require.NoError(t, err, out)
	assert.Contains(t, out, "it vouches for stillhouse.local and for 127.0.0.0/8, 10.0.0.0/8")
	assert.Contains(t, out, "until "+time.Now().AddDate(10, 0, 0).UTC().Format(time.DateOnly))
	out, err = prompt(t, "doctor", "--book", filepath.Join(t.TempDir(), "book.db"))
	require.NoError(t, err)
	assert.Contains(t, out, "no root certificate")
}
