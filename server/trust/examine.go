package trust

import (
	"crypto/ecdsa"
	"crypto/rsa"
	"crypto/x509"
	"fmt"
	"net/netip"
	"slices"
	"strings"
	"time"
)

// A Finding is one thing a phone would refuse, and what to do.
type Finding struct {
	Who    string // which phone, or every
	What   string // the rule and what is the case
	Remedy string
}

func (f Finding) String() string { return f.Who + ": " + f.What + "; " + f.Remedy }

// Rules that phones publish of what they accept.
//
// Apple, 'Requirements for trusted certificates in iOS 13 and macOS 10.15'
// (support.apple.com/103769): RSA of 2048 bits or EC, SHA-2, the name in the
// subject alternative names, serverAuth, at most 825 days. Android: RFC 5280,
// 'Chrome Root Program' FAQ. That the switch for full trust shows only roots
// with CA:TRUE and a common name is known from reports of people, no document.
const (
	appleMostDays = 825
	rsaLeastBits  = 2048
)

// ExamineLeaf says what phones would refuse of a server's certificate for the
// host they open. A certificate of a public authority is held to the same.
func ExamineLeaf(cert *x509.Certificate, host string, now time.Time) (found []Finding) {
	say := func(who, remedy, what string, args ...any) {
		found = append(found, Finding{who, fmt.Sprintf(what, args...), remedy})
	}
	const again = "let gaugebook serve make a new one, or ask its issuer for one"
	if err := cert.VerifyHostname(host); err != nil && host != "" {
		say("every phone", "open it by a name it has, or name this one with --name", "the certificate is for %s and not for %s", listOf(cert), host)
	}
	if len(cert.DNSNames)+len(cert.IPAddresses) == 0 {
		say("every phone", again, "no subject alternative name; the common name does not count")
	}
	if !slices.Contains(cert.ExtKeyUsage, x509.ExtKeyUsageServerAuth) {
		say("iPhone", again, "the extended key usage serverAuth is missing")
	}
	if days := cert.NotAfter.Sub(cert.NotBefore).Hours() / 24; days > appleMostDays {
		say("iPhone", again, "it is valid for %.0f days, and at most %d are taken", days, appleMostDays)
	}
	switch {
	case now.Before(cert.NotBefore):
		say("every phone", "set the clock of this computer", "it is valid only from %s", cert.NotBefore.Format(time.DateOnly))
	case now.After(cert.NotAfter):
		say("every phone", again, "it ended on %s", cert.NotAfter.Format(time.DateOnly))
	}
	return append(found, examineKey(cert, again)...)
}

// ExamineRoot says what phones would refuse of a root that a person installs.
func ExamineRoot(cert *x509.Certificate, now time.Time) (found []Finding) {
	say := func(who, what, remedy string) { found = append(found, Finding{who, what, remedy}) }
	const again = "move the root's two files away and let gaugebook serve make new ones; every phone installs it once more"
	if !cert.IsCA || !cert.BasicConstraintsValid {
		say("iPhone", "the root does not say CA:TRUE, so the switch for full trust does not appear", again)
	}
	if cert.Subject.CommonName == "" {
		say("iPhone", "the root has no common name, so the switch for full trust may not appear", again)
	}
	if cert.KeyUsage&x509.KeyUsageCertSign == 0 {
		say("every phone", "the root's key usage does not let it sign certificates", again)
	}
	if !cert.PermittedDNSDomainsCritical || len(cert.PermittedDNSDomains) == 0 || len(cert.PermittedIPRanges) == 0 {
		say("the person", "the root is not bound to this house's names and private addresses, so it could vouch for any site", again)
	}
	if now.Before(cert.NotBefore) || now.After(cert.NotAfter) {
		say("every phone", "the root is valid from "+cert.NotBefore.Format(time.DateOnly)+" to "+cert.NotAfter.Format(time.DateOnly), again)
	}
	return append(found, examineKey(cert, again)...)
}

func examineKey(cert *x509.Certificate, remedy string) (found []Finding) {
	switch key := cert.PublicKey.(type) {
	case *rsa.PublicKey:
		if key.N.BitLen() < rsaLeastBits {
			found = append(found, Finding{"iPhone", fmt.Sprintf("its RSA key has %d bits, and at least %d are asked", key.N.BitLen(), rsaLeastBits), remedy})
		}
	case *ecdsa.PublicKey:
	default:
		found = append(found, Finding{"iPhone", fmt.Sprintf("its key is %s, and RSA or EC is asked", cert.PublicKeyAlgorithm), remedy})
	}
	if !slices.Contains([]x509.SignatureAlgorithm{x509.SHA256WithRSA, x509.SHA384WithRSA, x509.SHA512WithRSA, x509.SHA256WithRSAPSS, x509.SHA384WithRSAPSS,
		x509.SHA512WithRSAPSS, x509.ECDSAWithSHA256, x509.ECDSAWithSHA384, x509.ECDSAWithSHA512}, cert.SignatureAlgorithm) {
		found = append(found, Finding{"iPhone", "it is signed with " + cert.SignatureAlgorithm.String() + ", and SHA-2 is asked", remedy})
	}
	return found
}

func listOf(cert *x509.Certificate) string {
	all := slices.Clone(cert.DNSNames)
	for _, ip := range cert.IPAddresses {
		a, _ := netip.AddrFromSlice(ip)
		all = append(all, a.Unmap().String())
	}
	if len(all) == 0 {
		return "nothing"
	}
	return strings.Join(all, ", ")
}
