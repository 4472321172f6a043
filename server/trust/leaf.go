package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// Site is what the leaf is for.
type Site struct {
	Names     []string
	Addresses []netip.Addr
}

// covers says whether a certificate is for all of it and for nothing else.
func (s Site) covers(cert *x509.Certificate) bool {
	if !slices.Equal(cert.DNSNames, s.Names) || len(cert.IPAddresses) != len(s.Addresses) {
		return false
	}
	for i, a := range s.Addresses {
		if !cert.IPAddresses[i].Equal(a.AsSlice()) {
			return false
		}
	}
	return true
}

// within is the site as far as the root's constraints allow; a phone would
// refuse the whole certificate for one name outside.
func (r *Root) within(s Site) (in, out Site) {
	for _, name := range s.Names {
		if slices.ContainsFunc(r.Cert.PermittedDNSDomains, func(d string) bool {
			return name == d || len(name) > len(d) && name[len(name)-len(d)-1:] == "."+d
		}) {
			in.Names = append(in.Names, name)
		} else {
			out.Names = append(out.Names, name)
		}
	}
	for _, a := range s.Addresses {
		a = a.Unmap().WithZone("")
		allowed := false
		for _, n := range r.Cert.PermittedIPRanges {
			allowed = allowed || n.Contains(a.AsSlice())
		}
		if allowed {
			in.Addresses = append(in.Addresses, a)
		} else {
			out.Addresses = append(out.Addresses, a)
		}
	}
	slices.SortFunc(in.Addresses, netip.Addr.Compare)
	in.Addresses = slices.Compact(in.Addresses)
	return in, out
}

// Issue makes a leaf. What of the site is outside of the root's constraints is
// left out of it, and given back.
func (r *Root) Issue(s Site, now time.Time) (leaf *tls.Certificate, out Site, err error) {
	in, out := r.within(s)
	if len(in.Names)+len(in.Addresses) == 0 {
		return nil, out, fmt.Errorf("the root is for %v; none of the names %v and addresses %v is under it", r.Cert.PermittedDNSDomains, s.Names, s.Addresses)
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, out, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, out, err
	}
	template := &x509.Certificate{
		SerialNumber: serial,
		NotBefore:    now.Add(-clockSkew),
		NotAfter:     now.Add(-clockSkew).Add(leafDays * 24 * time.Hour),
		KeyUsage:     x509.KeyUsageDigitalSignature,
		ExtKeyUsage:  []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:     in.Names,

		BasicConstraintsValid: true,
	}
	if len(in.Names) > 0 {
		template.Subject = pkix.Name{CommonName: in.Names[0]}
	}
	for _, a := range in.Addresses {
		template.IPAddresses = append(template.IPAddresses, a.AsSlice())
	}
	if template.NotAfter.After(r.Cert.NotAfter) {
		template.NotAfter = r.Cert.NotAfter
	}
	der, err := x509.CreateCertificate(rand.Reader, template, r.Cert, key.Public(), r.key)
	if err != nil {
		return nil, out, err
	}
	parsed, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der, r.Cert.Raw}, PrivateKey: key, Leaf: parsed}, out, err
}

// A Keeper gives a TLS server the leaf of the hour.
type Keeper struct {
	root *Root
	site func() Site
	now  func() time.Time

	mu     sync.Mutex
	leaf   *tls.Certificate
	looked time.Time
}

// NewKeeper keeps the leaf of a site, which it asks for anew once a minute.
func NewKeeper(root *Root, site func() Site, now func() time.Time) *Keeper {
	return &Keeper{root: root, site: site, now: now}
}

// Get is for tls.Config.GetCertificate.
func (k *Keeper) Get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.now()
	if k.leaf != nil && now.Sub(k.looked) < time.Minute && !now.Before(k.looked) {
		return k.leaf, nil
	}
	in, _ := k.root.within(k.site())
	if k.leaf == nil || isOld(k.leaf.Leaf, now) || !in.covers(k.leaf.Leaf) {
		leaf, _, err := k.root.Issue(in, now)
		switch {
		case err == nil:
			k.leaf = leaf
		case k.leaf == nil: // a machine that lost its network keeps the leaf it has
			return nil, err
		}
	}
	k.looked = now
	return k.leaf, nil
}

// isOld says that a third of its life, or less, is left.
func isOld(cert *x509.Certificate, now time.Time) bool {
	return cert.NotAfter.Sub(now) <= cert.NotAfter.Sub(cert.NotBefore)/3 || now.Before(cert.NotBefore)
}

// Config is how this house speaks TLS: 1.2 at the least, and what it shows.
func Config(get func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: get, NextProtos: []string{"h2", "http/1.1"}}
}
