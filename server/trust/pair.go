package trust

import (
	"crypto/tls"
	"fmt"
	"os"
	"sync"
	"time"
)

// A Pair is a certificate and a key that the owner brings, read again when
// their files change.
type Pair struct {
	cert, key string
	now       func() time.Time
	warn      func(error)

	mu      sync.Mutex
	shown   *tls.Certificate
	looked  time.Time
	version [2]fileVersion
}

type fileVersion struct {
	changed time.Time
	size    int64
}

// OpenPair reads the pair once, so that a mistake is told at the start; what
// goes wrong later is told to warn, and the pair before goes on being shown.
func OpenPair(cert, key string, now func() time.Time, warn func(error)) (*Pair, error) {
	p := &Pair{cert: cert, key: key, now: now, warn: warn}
	return p, p.load()
}

// Get is for tls.Config.GetCertificate. It looks at the files once a second at
// the most.
func (p *Pair) Get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if now := p.now(); now.Sub(p.looked) >= time.Second || now.Before(p.looked) {
		p.looked = now
		if version, err := p.versions(); err != nil || version != p.version {
			if err == nil {
				err = p.load()
			}
			if err != nil {
				p.warn(fmt.Errorf("the certificate was not read again, the one before goes on: %w", err))
			}
		}
	}
	return p.shown, nil
}

func (p *Pair) versions() (v [2]fileVersion, err error) {
	for i, path := range []string{p.cert, p.key} {
		info, err := os.Stat(path)
		if err != nil {
			return v, err
		}
		v[i] = fileVersion{info.ModTime(), info.Size()}
	}
	return v, nil
}

func (p *Pair) load() error {
	version, err := p.versions()
	if err != nil {
		return err
	}
	pair, err := tls.LoadX509KeyPair(p.cert, p.key)
	if err != nil {
		return fmt.Errorf("%s with %s: %w", p.cert, p.key, err)
	}
	p.shown, p.version = &pair, version
	return nil
}
