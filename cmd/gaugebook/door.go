package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/server"
	"gaugebook/server/trust"
)

// A door is how phones come to the book: its listener, and beside it, where
// phones must first be told whom to trust, the join sheet's.
type door struct {
	book  net.Listener
	hand  net.Listener // of the join sheet; nil for none
	sheet server.Sheet // empty on plain http
	hosts []string
	made  bool // the root is new
}

// open takes the addresses. Plain http is for this machine alone, where a
// browser trusts it, and for the demo; on a network it would give the sessions
// away, and phones could not work offline.
func (o serveOptions) open(log *slog.Logger) (d door, err error) {
	if (o.cert == "") != (o.key == "") {
		return d, fault.Fault{Code: fault.Missing, Field: "tls-key", Limit: "a certificate and its key come together", Remedy: "give both --tls-cert and --tls-key"}
	}
	if d.book, err = net.Listen("tcp", o.listen); err != nil {
		return d, fault.Fault{Code: fault.Conflict, Field: "listen", Value: o.listen, Limit: err.Error(), Remedy: "name another address with --listen"}
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, d.close())
		}
	}()
	local := d.book.Addr().(*net.TCPAddr)
	if o.demo && !local.IP.IsLoopback() {
		return d, fault.Fault{Code: fault.NotOneOf, Field: "listen", Value: o.listen,
			Limit: "the demo lets a browser join by itself, so it is answered on this machine alone, such as 127.0.0.1:8021", Remedy: "leave --demo out for a book of your own"}
	}
	if o.demo || local.IP.IsLoopback() && !o.https && o.cert == "" {
		return d, nil
	}
	name := o.name
	if name == "" {
		name = machineName()
	}
	config := (*tls.Config)(nil)
	if o.cert != "" {
		pair, err := trust.OpenPair(o.cert, o.key, time.Now, func(err error) { log.Error(err.Error()) })
		if err != nil {
			return d, err
		}
		shown, err := pair.Get(nil)
		if err != nil {
			return d, err
		}
		if o.name == "" && len(shown.Leaf.DNSNames) > 0 && !strings.HasPrefix(shown.Leaf.DNSNames[0], "*") {
			name = shown.Leaf.DNSNames[0]
		}
		for _, f := range trust.ExamineLeaf(shown.Leaf, name, time.Now()) {
			log.Warn("a phone would refuse the certificate", "why", f.String())
		}
		config = trust.Config(pair.Get)
	} else {
		names := []string{name}
		if net.ParseIP(name) != nil {
			names = []string{machineName()}
		}
		root, made, err := trust.Open(filepath.Dir(o.book), names, time.Now())
		if err != nil {
			return d, err
		}
		d.made = made
		names = root.Cert.PermittedDNSDomains
		if o.name == "" {
			name = names[0]
		}
		if net.ParseIP(name) == nil && !slices.Contains(names, name) {
			return d, fault.Fault{Code: fault.Conflict, Field: "name", Value: name, Limit: "this house's root vouches for " + strings.Join(names, ", ") + " only",
				Remedy: "leave --name out, or move gaugebook-root.crt and gaugebook-root.key away for new ones: then every phone does the join sheet again, and what is unsent stays under the old name"}
		}
		d.hosts = names
		d.sheet = server.Sheet{Root: root.Cert, Profile: root.Profile(), PEM: root.PEM(), Print: root.Fingerprint()}
		config = trust.Config(trust.NewKeeper(root, func() trust.Site { return trust.Site{Names: names, Addresses: addresses()} }, time.Now).Get)
	}
	d.hosts = append(d.hosts, name)
	d.sheet.App = "https://" + net.JoinHostPort(name, fmt.Sprint(local.Port))
	d.sheet.Join = d.sheet.App + "/join"
	d.book = tls.NewListener(d.book, config)
	if o.sheet == "none" || o.cert != "" { // who has a certificate that phones trust needs no other door
		return d, nil
	}
	if d.hand, err = net.Listen("tcp", o.sheet); err != nil {
		return d, fault.Fault{Code: fault.Conflict, Field: "join-listen", Value: o.sheet, Limit: err.Error(), Remedy: "name another address with --join-listen, or 'none'"}
	}
	hand := d.hand.Addr().(*net.TCPAddr)
	host := hand.IP.String()
	if hand.IP.IsUnspecified() {
		host = onTheNetwork(name)
	}
	d.sheet.Join = "http://" + net.JoinHostPort(host, fmt.Sprint(hand.Port)) + "/join"
	return d, nil
}

func (d door) close() error {
	var err error
	for _, ln := range []net.Listener{d.book, d.hand} {
		if ln != nil {
			err = errors.Join(err, ln.Close())
		}
	}
	return err
}

// handOut gives the join sheet on its own listener until the context ends.
func (d door) handOut(ctx context.Context) error {
	if d.hand == nil {
		return nil
	}
	h, err := d.sheet.Handler()
	if err != nil {
		return err
	}
	hs := &http.Server{Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 20 * time.Second, IdleTimeout: 30 * time.Second, MaxHeaderBytes: 8 << 10,
		ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelDebug)}
	stop := context.AfterFunc(ctx, func() { hs.Close() }) // a sheet that breaks off is loaded again
	defer stop()
	if err := hs.Serve(d.hand); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// words say where to open the book.
func (d door) words() string {
	if d.sheet.App == "" {
		return fmt.Sprintf("listening on http://%s\n", d.book.Addr())
	}
	var b strings.Builder
	if d.made {
		b.WriteString("this house has a new root certificate; its key gaugebook-root.key stands beside the book, in no backup\n")
	}
	if d.sheet.Print != "" {
		fmt.Fprintf(&b, "its root's SHA-256 is %s\n", d.sheet.Print)
	}
	fmt.Fprintf(&b, "a phone begins with the join sheet, %s\n", d.sheet.Join)
	fmt.Fprintf(&b, "listening on %s\n", d.sheet.App)
	return b.String()
}

// believe takes a --proxy.
func (o *serveOptions) believe(text string) error {
	p, err := netip.ParsePrefix(text)
	if err != nil {
		a, addrErr := netip.ParseAddr(text)
		if addrErr != nil {
			return fmt.Errorf("%q is neither an address nor a range of them", text)
		}
		p = netip.PrefixFrom(a, a.BitLen())
	}
	o.proxies = append(o.proxies, p)
	return nil
}

// machineName is the name that this machine has on the house's network.
func machineName() string {
	host, err := os.Hostname()
	host, _, _ = strings.Cut(strings.ToLower(host), ".")
	if host = strings.Trim(host, "-"); err != nil || host == "" || host == "localhost" || strings.Trim(host, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		host = "gaugebook"
	}
	return host + ".local"
}

// addresses are those of this machine.
func addresses() (out []netip.Addr) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return []netip.Addr{netip.MustParseAddr("127.0.0.1")}
	}
	for _, a := range all {
		if p, err := netip.ParsePrefix(a.String()); err == nil && !p.Addr().IsLinkLocalUnicast() {
			out = append(out, p.Addr().Unmap())
		}
	}
	return out
}

// onTheNetwork is an address that other machines reach, or the name.
func onTheNetwork(name string) string {
	for _, a := range addresses() {
		if a.Is4() && a.IsPrivate() {
			return a.String()
		}
	}
	return name
}
