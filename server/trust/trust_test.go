package trust

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/base64"
	"encoding/pem"
	"encoding/xml"
	"errors"
	"io"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var began = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

const name = "stillhouse.local"

func open(t testing.TB) (*Root, string) {
	folder := t.TempDir()
	root, made, err := Open(folder, []string{name}, began)
	require.NoError(t, err)
	require.True(t, made)
	return root, folder
}

func site(addresses ...string) Site {
	s := Site{Names: []string{name}}
	for _, a := range addresses {
		s.Addresses = append(s.Addresses, netip.MustParseAddr(a))
	}
	return s
}

func pool(r *Root) *x509.CertPool {
	p := x509.NewCertPool()
	p.AddCert(r.Cert)
	return p
}

// Apple, support.apple.com/103769, and RFC 5280 §4.2.1.9 and §4.2.1.10; the
// common name is what people found the trust switch to need.
func TestRootIsWhatPhonesTake(t *testing.T) {
	root, folder := open(t)
	c := root.Cert
	assert.True(t, c.IsCA && c.BasicConstraintsValid, "CA:TRUE")
	assert.True(t, c.MaxPathLenZero, "signs no other authority")
	assert.Equal(t, "Gaugebook local root (stillhouse.local, 2026-11)", c.Subject.CommonName)
	assert.Equal(t, x509.KeyUsageCertSign|x509.KeyUsageCRLSign, c.KeyUsage)
	assert.Equal(t, x509.ECDSAWithSHA256, c.SignatureAlgorithm)
	assert.Equal(t, elliptic.P256(), c.PublicKey.(*ecdsa.PublicKey).Curve)
	assert.Equal(t, began.AddDate(10, 0, 0), c.NotAfter)
	assert.True(t, c.PermittedDNSDomainsCritical, "constraints are critical")
	assert.Equal(t, []string{name}, c.PermittedDNSDomains)
	assert.Len(t, c.PermittedIPRanges, len(privateRanges))
	assert.Empty(t, ExamineRoot(c, began))

	info, err := os.Stat(filepath.Join(folder, keyFile))
	require.NoError(t, err)
	assert.EqualValues(t, 0o600, info.Mode().Perm(), "the key is the owner's alone")
}

func TestLeafIsWhatPhonesTake(t *testing.T) {
	root, _ := open(t)
	leaf, out, err := root.Issue(site("192.168.7.20", "203.0.113.9"), began)
	require.NoError(t, err)
	c := leaf.Leaf
	assert.Equal(t, []netip.Addr{netip.MustParseAddr("203.0.113.9")}, out.Addresses, "a public address is left out and told")
	assert.Equal(t, []string{name}, c.DNSNames)
	assert.Equal(t, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, c.ExtKeyUsage)
	assert.Equal(t, 397*24*time.Hour, c.NotAfter.Sub(c.NotBefore), "at most 825 days (Apple), 398 for public roots")
	assert.Equal(t, x509.ECDSAWithSHA256, c.SignatureAlgorithm)
	assert.False(t, c.IsCA)
	for _, host := range []string{name, "192.168.7.20"} {
		assert.Empty(t, ExamineLeaf(c, host, began), host)
		_, err := c.Verify(x509.VerifyOptions{DNSName: host, Roots: pool(root), CurrentTime: began})
		assert.NoError(t, err, host)
	}
}

// Each rule is broken once; the finding names it.
func TestExamineFindsWhatPhonesRefuse(t *testing.T) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	make := func(change func(*x509.Certificate)) *x509.Certificate {
		c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "c"}, NotBefore: began, NotAfter: began.AddDate(1, 0, 0),
			DNSNames: []string{name}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true}
		change(c)
		der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
		require.NoError(t, err)
		c, err = x509.ParseCertificate(der)
		require.NoError(t, err)
		return c
	}
	for what, c := range map[string]struct {
		change func(*x509.Certificate)
		host   string
		words  string
	}{
		"another name":     {func(*x509.Certificate) {}, "other.local", "every phone: the certificate is for stillhouse.local and not for other.local; open it by a name it has, or name this one with --name"},
		"no SAN":           {func(c *x509.Certificate) { c.DNSNames = nil }, "", "every phone: no subject alternative name; the common name does not count; let gaugebook serve make a new one, or ask its issuer for one"},
		"no serverAuth":    {func(c *x509.Certificate) { c.ExtKeyUsage = nil }, name, "iPhone: the extended key usage serverAuth is missing; let gaugebook serve make a new one, or ask its issuer for one"},
		"826 days":         {func(c *x509.Certificate) { c.NotAfter = began.Add(826 * 24 * time.Hour) }, name, "iPhone: it is valid for 826 days, and at most 825 are taken; let gaugebook serve make a new one, or ask its issuer for one"},
		"it has ended":     {func(c *x509.Certificate) { c.NotBefore, c.NotAfter = began.AddDate(0, -2, 0), began.AddDate(0, -1, 0) }, name, "every phone: it ended on 2026-10-25; let gaugebook serve make a new one, or ask its issuer for one"},
		"it has not begun": {func(c *x509.Certificate) { c.NotBefore = began.AddDate(0, 1, 0) }, name, "every phone: it is valid only from 2026-12-25; set the clock of this computer"},
	} {
		found := ExamineLeaf(make(c.change), c.host, began)
		require.Len(t, found, 1, what)
		assert.Equal(t, c.words, found[0].String(), what)
	}
	assert.Empty(t, ExamineLeaf(make(func(c *x509.Certificate) { c.NotAfter = began.Add(825 * 24 * time.Hour) }), name, began), "825 days are taken")

	constrained := func(c *x509.Certificate) {
		_, n, _ := net.ParseCIDR("10.0.0.0/8") // a constant
		c.IsCA, c.KeyUsage, c.PermittedDNSDomainsCritical, c.PermittedDNSDomains, c.PermittedIPRanges = true, x509.KeyUsageCertSign, true, []string{name}, []*net.IPNet{n}
	}
	assert.Empty(t, ExamineRoot(make(constrained), began))
	for words, change := range map[string]func(*x509.Certificate){
		"CA:TRUE": func(c *x509.Certificate) {
			c.IsCA, c.KeyUsage, c.PermittedDNSDomains, c.PermittedIPRanges = false, 0, nil, nil
		},
		"no common name": func(c *x509.Certificate) { c.Subject.CommonName = "" },
		"key usage":      func(c *x509.Certificate) { c.KeyUsage = x509.KeyUsageCRLSign },
		"vouch for any":  func(c *x509.Certificate) { c.PermittedDNSDomains, c.PermittedIPRanges = nil, nil },
		"is valid from":  func(c *x509.Certificate) { c.NotAfter = began.Add(-time.Hour); c.NotBefore = began.AddDate(-1, 0, 0) },
	} {
		found := ExamineRoot(make(func(c *x509.Certificate) { constrained(c); change(c) }), began)
		require.NotEmpty(t, found, words)
		var all string
		for _, f := range found {
			all += f.String() + "\n"
		}
		assert.Contains(t, all, words)
	}
}

// Whatever private addresses a machine has, its leaf verifies for each of them
// and for no public name; and a leaf for another's name, signed with the very
// key of the root, is refused.
func TestConstraintsHold(t *testing.T) {
	root, _ := open(t)
	rapid.Check(t, func(t *rapid.T) {
		s := Site{Names: []string{name}}
		for range rapid.IntRange(0, 5).Draw(t, "addresses") {
			b := rapid.SliceOfN(rapid.Byte(), 3, 3).Draw(t, "address")
			s.Addresses = append(s.Addresses, rapid.SampledFrom([]netip.Addr{
				netip.AddrFrom4([4]byte{10, b[0], b[1], b[2]}), netip.AddrFrom4([4]byte{192, 168, b[0], b[1]}), netip.AddrFrom4([4]byte{172, 16 | b[0]&15, b[1], b[2]}),
			}).Draw(t, "of"))
		}
		leaf, out, err := root.Issue(s, began)
		require.NoError(t, err)
		require.Empty(t, out)
		for _, a := range s.Addresses {
			_, err := leaf.Leaf.Verify(x509.VerifyOptions{DNSName: a.String(), Roots: pool(root), CurrentTime: began})
			require.NoError(t, err, a)
		}
		for _, host := range []string{"bank.example", "203.0.113.9", "local"} {
			_, err := leaf.Leaf.Verify(x509.VerifyOptions{DNSName: host, Roots: pool(root), CurrentTime: began})
			require.Error(t, err, host)
		}
	})
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	der, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{SerialNumber: big.NewInt(2), NotBefore: began, NotAfter: began.AddDate(0, 1, 0),
		DNSNames: []string{"bank.example"}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}, root.Cert, key.Public(), root.key)
	require.NoError(t, err)
	forged, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	_, err = forged.Verify(x509.VerifyOptions{DNSName: "bank.example", Roots: pool(root), CurrentTime: began})
	var invalid x509.CertificateInvalidError
	require.ErrorAs(t, err, &invalid)
	assert.Equal(t, x509.CANotAuthorizedForThisName, invalid.Reason)
}

func TestOpenTwiceIsOneRoot(t *testing.T) {
	root, folder := open(t)
	again, made, err := Open(folder, []string{"other.local"}, began.AddDate(1, 0, 0))
	require.NoError(t, err)
	assert.False(t, made)
	assert.Equal(t, root.Cert.Raw, again.Cert.Raw)

	require.NoError(t, os.Chmod(filepath.Join(folder, keyFile), 0o644))
	_, _, err = Open(folder, []string{name}, began)
	assert.ErrorContains(t, err, "may be read by others")
	require.NoError(t, os.Remove(filepath.Join(folder, keyFile)))
	_, _, err = Open(folder, []string{name}, began)
	assert.ErrorContains(t, err, "its key", "a lost key is told, and no second root made over the first")
	for _, bad := range []string{"", "*.local", "192.168.1.2", ".local", "Still House"} {
		_, _, err = Open(t.TempDir(), []string{bad}, began)
		assert.Error(t, err, bad)
	}
}

// A real handshake, and the leaf made anew: by age and by another address.
func TestHandshakeAndRotation(t *testing.T) {
	root, _ := open(t)
	now, here := began, site("127.0.0.1")
	keeper := NewKeeper(root, func() Site { return here }, func() time.Time { return now })
	ln, err := tls.Listen("tcp", "127.0.0.1:0", Config(keeper.Get))
	require.NoError(t, err)
	defer ln.Close()
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			io.WriteString(c, "hello") // a refused handshake fails here
			c.Close()
		}
	}()
	dial := func(host string, roots *x509.CertPool, most uint16) (*x509.Certificate, error) {
		c, err := tls.Dial("tcp", ln.Addr().String(), &tls.Config{ServerName: host, RootCAs: roots, MaxVersion: most, Time: func() time.Time { return now }})
		if err != nil {
			return nil, err
		}
		defer c.Close()
		said, err := io.ReadAll(c)
		assert.Equal(t, "hello", string(said))
		return c.ConnectionState().PeerCertificates[0], err
	}
	first, err := dial(name, pool(root), 0)
	require.NoError(t, err)
	_, err = dial("127.0.0.1", pool(root), tls.VersionTLS12)
	require.NoError(t, err)
	var wrongName x509.HostnameError
	_, err = dial("other.local", pool(root), 0)
	require.ErrorAs(t, err, &wrongName)
	var unknown x509.UnknownAuthorityError
	_, err = dial(name, x509.NewCertPool(), 0)
	require.ErrorAs(t, err, &unknown)
	_, err = dial(name, pool(root), tls.VersionTLS11)
	require.Error(t, err, "TLS 1.1")

	now = began.Add(264 * 24 * time.Hour)
	same, err := dial(name, pool(root), 0)
	require.NoError(t, err)
	assert.Equal(t, first.SerialNumber, same.SerialNumber, "more than a third of its life is left")
	now = began.Add(265 * 24 * time.Hour)
	next, err := dial(name, pool(root), 0)
	require.NoError(t, err)
	assert.NotEqual(t, first.SerialNumber, next.SerialNumber, "made anew at a third left")
	assert.Equal(t, now.Add(-time.Hour).Add(397*24*time.Hour), next.NotAfter)

	now, here = now.Add(time.Minute), site("127.0.0.1", "192.168.7.21")
	moved, err := dial("192.168.7.21", pool(root), 0)
	require.NoError(t, err, "the machine has another address, the leaf too")
	assert.NotEqual(t, next.SerialNumber, moved.SerialNumber)
}

func TestPairIsReadAgain(t *testing.T) {
	root, folder := open(t)
	certPath, keyPath := filepath.Join(folder, "own.crt"), filepath.Join(folder, "own.key")
	write := func(changed time.Time) *x509.Certificate {
		leaf, _, err := root.Issue(site(), began)
		require.NoError(t, err)
		der, err := x509.MarshalPKCS8PrivateKey(leaf.PrivateKey)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(keyPath, pem.EncodeToMemory(&pem.Block{Type: keyHeader, Bytes: der}), 0o600))
		require.NoError(t, os.WriteFile(certPath, pem.EncodeToMemory(&pem.Block{Type: certHeader, Bytes: leaf.Leaf.Raw}), 0o600))
		require.NoError(t, os.Chtimes(certPath, changed, changed))
		return leaf.Leaf
	}
	first := write(began)
	now, warned := began, []error{}
	p, err := OpenPair(certPath, keyPath, func() time.Time { return now }, func(err error) { warned = append(warned, err) })
	require.NoError(t, err)
	shown := func() *x509.Certificate {
		now = now.Add(2 * time.Second)
		c, err := p.Get(nil)
		require.NoError(t, err)
		return c.Leaf
	}
	assert.Equal(t, first.Raw, shown().Raw)
	second := write(began.Add(time.Hour))
	assert.Equal(t, second.Raw, shown().Raw, "without a restart")
	require.NoError(t, os.WriteFile(certPath, []byte("half a file"), 0o600))
	assert.Equal(t, second.Raw, shown().Raw, "what cannot be read leaves the one before")
	require.Len(t, warned, 1)
	_, err = OpenPair(certPath, keyPath, time.Now, nil)
	assert.Error(t, err)
}

func TestProfileHoldsTheRoot(t *testing.T) {
	root, _ := open(t)
	p := root.Profile()
	assert.Equal(t, p, root.Profile(), "a second download replaces the first")
	assert.Contains(t, string(p), "com.apple.security.root")
	assert.Contains(t, string(p), base64.StdEncoding.EncodeToString(root.Cert.Raw))
	d := xml.NewDecoder(bytes.NewReader(p))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err, "well-formed")
		}
	}
	assert.Len(t, root.Fingerprint(), 32*3-1)
	sum := sha256.Sum256(root.Cert.Raw)
	assert.Equal(t, sum[:1], []byte{hexByte(t, root.Fingerprint()[:2])})
}

func hexByte(t *testing.T, s string) byte {
	n, ok := new(big.Int).SetString(s, 16)
	require.True(t, ok, s)
	return byte(n.Int64())
}
