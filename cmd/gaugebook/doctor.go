package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/server/trust"
)

// runDoctor is the subcommand doctor: it looks at the root beside the book, or
// at the certificate that an address shows, as a phone would.
func runDoctor(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("doctor", "[--book FILE] [https://NAME:PORT]")
	at := fs.String("at", "", "`ADDRESS` to connect to, if the name does not lead there from here")
	cert := fs.String("tls-cert", "", "a certificate of your own, a `FILE` in PEM")
	key := fs.String("tls-key", "", "its key, a `FILE` in PEM")
	if helped, err := parse(fs, args, stdout, 0, 1); helped || err != nil {
		return err
	}
	d := doctor{out: stdout, now: time.Now()}
	if *cert != "" {
		pair, err := tls.LoadX509KeyPair(*cert, *key)
		if err != nil {
			return err
		}
		host := ""
		if len(pair.Leaf.DNSNames) > 0 {
			host = pair.Leaf.DNSNames[0]
		}
		d.leaf(pair.Leaf, host)
		d.say("whether phones know who issued it, only opening it shows: gaugebook doctor https://%s", host)
		return d.verdict()
	}
	root, err := d.root(filepath.Dir(bookOf(fs)))
	if err != nil {
		return err
	}
	if fs.NArg() == 1 {
		if err := d.visit(ctx, fs.Arg(0), *at, root); err != nil {
			return err
		}
	} else if root != nil {
		leaf, out, err := root.Issue(trust.Site{Names: root.Cert.PermittedDNSDomains, Addresses: addresses()}, d.now)
		if err != nil {
			return err
		}
		d.leaf(leaf.Leaf, root.Cert.PermittedDNSDomains[0])
		for _, a := range out.Addresses {
			d.say("this machine's address %s is a public one, which the root does not vouch for: open the book by its name", a)
		}
	}
	return d.verdict()
}

// A doctor says what it finds, and counts what a phone would refuse.
type doctor struct {
	out     io.Writer
	now     time.Time
	refused int
}

func (d *doctor) say(words string, args ...any) { fmt.Fprintf(d.out, words+"\n", args...) }

func (d *doctor) find(found []trust.Finding) {
	for _, f := range found {
		d.refused++
		d.say("refused by %s", f)
	}
}

func (d *doctor) verdict() error {
	if d.refused > 0 {
		d.say("%d things would be refused", d.refused)
		return errAnswered
	}
	d.say("nothing of this would be refused by the rules that Apple and Android publish; only a phone in the hand shows the rest")
	return nil
}

func (d *doctor) root(folder string) (*trust.Root, error) {
	root, err := trust.Read(folder)
	if errors.Is(err, fs.ErrNotExist) {
		d.say("beside the book is no root certificate: gaugebook serve makes one when it first answers on the network")
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	c := root.Cert
	d.say("the root is %s, until %s", c.Subject.CommonName, c.NotAfter.Format(time.DateOnly))
	d.say("its SHA-256 is %s", root.Fingerprint())
	var ranges []string
	for _, r := range c.PermittedIPRanges {
		ranges = append(ranges, r.String())
	}
	d.say("it vouches for %s and for %s, and for nothing else", strings.Join(c.PermittedDNSDomains, ", "), strings.Join(ranges, ", "))
	d.find(trust.ExamineRoot(c, d.now))
	return root, nil
}

func (d *doctor) leaf(c *x509.Certificate, host string) {
	var names []string
	names = append(names, c.DNSNames...)
	for _, ip := range c.IPAddresses {
		names = append(names, ip.String())
	}
	d.say("the certificate is for %s", strings.Join(names, ", "))
	d.say("it is valid for %.0f more days, until %s", c.NotAfter.Sub(d.now).Hours()/24, c.NotAfter.Format(time.DateOnly))
	d.find(trust.ExamineLeaf(c, host, d.now))
}

// visit opens an address as a phone does, once with what this machine trusts
// and the house's root, and says what came.
func (d *doctor) visit(ctx context.Context, address, at string, root *trust.Root) error {
	u, err := url.Parse(address)
	if err != nil || u.Hostname() == "" {
		return fault.Fault{Code: fault.NotOneOf, Field: "address", Value: address, Limit: "is not like https://stillhouse.local:8021", Remedy: "copy it from the join sheet"}
	}
	if u.Scheme != "https" {
		d.find([]trust.Finding{{Who: "every phone", What: "without https a browser gives no service worker, so the book does not open without the network", Remedy: "open the https address of the join sheet"}})
		return nil
	}
	port := u.Port()
	if port == "" {
		port = "443"
	}
	if at == "" {
		at = net.JoinHostPort(u.Hostname(), port)
	}
	dialer := tls.Dialer{NetDialer: &net.Dialer{Timeout: 10 * time.Second}, Config: &tls.Config{ServerName: u.Hostname(), InsecureSkipVerify: true}} // judged below, in words
	c, err := dialer.DialContext(ctx, "tcp", at)
	if err != nil {
		d.find([]trust.Finding{{Who: "every phone", What: "nothing answers: " + err.Error(), Remedy: "is gaugebook serve running; does the name lead to this machine (a router may filter names with private addresses: make an exception there); does a firewall stand between"}})
		return nil
	}
	defer c.Close()
	chain := c.(*tls.Conn).ConnectionState().PeerCertificates
	d.leaf(chain[0], u.Hostname())
	roots, err := x509.SystemCertPool()
	if err != nil {
		roots = x509.NewCertPool()
	}
	if root != nil {
		roots.AddCert(root.Cert)
	}
	between := x509.NewCertPool()
	for _, one := range chain[1:] {
		between.AddCert(one)
	}
	_, err = chain[0].Verify(x509.VerifyOptions{Roots: roots, Intermediates: between, CurrentTime: d.now})
	var unknown x509.UnknownAuthorityError
	var invalid x509.CertificateInvalidError
	switch {
	case errors.As(err, &unknown):
		d.find([]trust.Finding{{Who: "every phone", What: "who issued the certificate is neither this house's root nor known to this machine", Remedy: "do the join sheet, or send the whole chain in --tls-cert"}})
	case errors.As(err, &invalid) && invalid.Reason == x509.CANotAuthorizedForThisName:
		d.find([]trust.Finding{{Who: "every phone", What: "the certificate has a name that its root may not vouch for", Remedy: "let gaugebook serve make a new one"}})
	case err != nil && !errors.As(err, &invalid): // its dates are told above
		d.find([]trust.Finding{{Who: "every phone", What: err.Error(), Remedy: "let gaugebook serve make a new one"}})
	}
	return nil
}
