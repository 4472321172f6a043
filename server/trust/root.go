package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"
)

const (
	rootYears  = 10
	leafDays   = 397 // Apple asks for at most 825 of a root that a person installed; 398 is the rule of public ones
	clockSkew  = time.Hour
	certFile   = "gaugebook-root.crt"
	keyFile    = "gaugebook-root.key"
	certHeader = "CERTIFICATE"
	keyHeader  = "PRIVATE KEY"
)

// privateRanges are the addresses no other house's certificate can be forged
// for: loopback, RFC 1918, link-local (RFC 3927, RFC 4291) and RFC 4193.
var privateRanges = [...]string{"127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "::1/128", "fe80::/10", "fc00::/7"}

// A Root signs the office's certificates.
type Root struct {
	Cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// Open reads the root of a folder. Where there is none it makes one for the
// names, and says so.
func Open(folder string, names []string, now time.Time) (root *Root, made bool, err error) {
	root, err = read(folder)
	if !errors.Is(err, fs.ErrNotExist) {
		return root, false, err
	}
	if root, err = newRoot(names, now); err != nil {
		return nil, false, err
	}
	return root, true, root.write(folder)
}

// Read is the root of a folder; an error of fs.ErrNotExist if there is none.
func Read(folder string) (*Root, error) { return read(folder) }

func newRoot(names []string, now time.Time) (*Root, error) {
	if len(names) == 0 || names[0] == "" {
		return nil, errors.New("a root needs the office's name")
	}
	for _, name := range names {
		if strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789-.") != "" || strings.HasPrefix(name, ".") || net.ParseIP(name) != nil {
			return nil, fmt.Errorf("%q is no host name: letters, digits, hyphens and dots", name)
		}
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber:          serial,
		Subject:               pkix.Name{CommonName: fmt.Sprintf("Gaugebook local root (%s, %s)", names[0], now.UTC().Format("2006-01")), Organization: []string{"Gaugebook on " + names[0]}},
		NotBefore:             now.Add(-clockSkew),
		NotAfter:              now.AddDate(rootYears, 0, 0),
		IsCA:                  true,
		BasicConstraintsValid: true,
		MaxPathLenZero:        true,
		KeyUsage:              x509.KeyUsageCertSign | x509.KeyUsageCRLSign,

		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         names,
	}
	for _, r := range privateRanges {
		_, ipNet, err := net.ParseCIDR(r)
		if err != nil {
			return nil, err
		}
		template.PermittedIPRanges = append(template.PermittedIPRanges, ipNet)
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	return &Root{cert, key}, err
}

func newSerial() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
}

// write keeps the root. The key comes first, so that a certificate that is
// there has its key; and neither replaces anything.
func (r *Root) write(folder string) error {
	der, err := x509.MarshalPKCS8PrivateKey(r.key)
	if err != nil {
		return err
	}
	if err := writeNew(filepath.Join(folder, keyFile), 0o600, pem.EncodeToMemory(&pem.Block{Type: keyHeader, Bytes: der})); err != nil {
		return err
	}
	return writeNew(filepath.Join(folder, certFile), 0o644, r.PEM())
}

func writeNew(path string, mode fs.FileMode, body []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	_, err = f.Write(body)
	return errors.Join(err, f.Sync(), f.Close())
}

func read(folder string) (*Root, error) {
	certPath, keyPath := filepath.Join(folder, certFile), filepath.Join(folder, keyFile)
	info, err := os.Stat(keyPath)
	if err != nil {
		if _, lone := os.Stat(certPath); errors.Is(err, fs.ErrNotExist) && lone == nil {
			return nil, fmt.Errorf("%s is there and its key %s is not; bring the key back, or move the certificate away for a new root and a new join sheet", certPath, keyPath)
		}
		return nil, err
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s may be read by others of this machine (mode %04o); chmod 600 it", keyPath, info.Mode().Perm())
	}
	key, err := readBlock(keyPath, keyHeader)
	if err != nil {
		return nil, err
	}
	cert, err := readBlock(certPath, certHeader)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s is there and its certificate %s is not; move the key away for a new root and a new join sheet", keyPath, certPath)
	}
	if err != nil {
		return nil, err
	}
	root := &Root{}
	if root.Cert, err = x509.ParseCertificate(cert); err != nil {
		return nil, fmt.Errorf("%s: %w", certPath, err)
	}
	parsed, err := x509.ParsePKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", keyPath, err)
	}
	var ok bool
	if root.key, ok = parsed.(*ecdsa.PrivateKey); !ok || !root.key.PublicKey.Equal(root.Cert.PublicKey) {
		return nil, fmt.Errorf("%s is not the key of %s", keyPath, certPath)
	}
	return root, nil
}

func readBlock(path, header string) ([]byte, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	block, _ := pem.Decode(raw)
	if block == nil || block.Type != header {
		return nil, fmt.Errorf("%s is no %s in PEM", path, strings.ToLower(header))
	}
	return block.Bytes, nil
}

// PEM is the root's certificate.
func (r *Root) PEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: certHeader, Bytes: r.Cert.Raw})
}

// Fingerprint is the certificate's SHA-256 as phones show it, pairs of
// hexadecimal digits.
func (r *Root) Fingerprint() string { return Fingerprint(r.Cert) }

// Fingerprint is a certificate's SHA-256 as phones show it.
func Fingerprint(cert *x509.Certificate) string {
	sum := sha256.Sum256(cert.Raw)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, " ")
}
