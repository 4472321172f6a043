package rig

import (
	"bytes"
	"net"
	"sync"
)

// A Wire is the network between phones and one office: it forwards bytes, can
// be cut and mended, and can break off in the middle of a request or a reply.
type Wire struct {
	URL string // the page's origin

	mu    sync.Mutex
	to    string
	off   bool
	open  map[net.Conn]bool
	fault *Fault
	seen  map[string]int // pushes and the like, by their first line
}

// A Fault breaks the wire once, at a request whose first line begins with At,
// such as "POST /sync/v1/push". Do runs while neither side knows yet.
type Fault struct {
	At    string
	Reply bool // the office had the request whole and answered; else it never sees it
	Do    func()
}

// NewWire makes a wire that leads nowhere yet.
func NewWire(b Bench) *Wire {
	b.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatalf("%v", err)
	}
	w := &Wire{URL: "http://" + ln.Addr().String(), open: map[net.Conn]bool{}, seen: map[string]int{}}
	b.Cleanup(func() {
		ln.Close()
		w.Cut()
	})
	go func() {
		for {
			phone, err := ln.Accept()
			if err != nil {
				return
			}
			go w.carry(phone)
		}
	}()
	return w
}

// To leads the wire to an office's address.
func (w *Wire) To(address string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.to = address
}

// Cut breaks every connection and refuses new ones.
func (w *Wire) Cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.off = true
	for c := range w.open {
		c.Close()
	}
}

// Mend lets connections through again.
func (w *Wire) Mend() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.off = false
}

// Break arms a fault.
func (w *Wire) Break(f Fault) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.fault = &f
}

// Seen is how many requests whose first line begins with start went by.
func (w *Wire) Seen(start string) int {
	w.mu.Lock()
	defer w.mu.Unlock()
	n := 0
	for line, times := range w.seen {
		if len(line) >= len(start) && line[:len(start)] == start {
			n += times
		}
	}
	return n
}

// keep notes an open connection; false while the wire is cut.
func (w *Wire) keep(c net.Conn) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.off {
		return false
	}
	w.open[c] = true
	return true
}

func (w *Wire) drop(c net.Conn) {
	w.mu.Lock()
	delete(w.open, c)
	w.mu.Unlock()
	c.Close()
}

// strikes says whether what a phone sends calls the armed fault.
func (w *Wire) strikes(sent []byte) *Fault {
	w.mu.Lock()
	defer w.mu.Unlock()
	line, _, _ := bytes.Cut(sent, []byte("\r\n"))
	if bytes.HasSuffix(line, []byte(" HTTP/1.1")) {
		w.seen[string(line)]++
	}
	f := w.fault
	if f == nil || !bytes.HasPrefix(sent, []byte(f.At)) {
		return nil
	}
	w.fault = nil
	return f
}

// carry forwards one connection. A browser writes one request after the other
// into it, so what it writes begins with a request's first line.
func (w *Wire) carry(phone net.Conn) {
	defer w.drop(phone)
	w.mu.Lock()
	to := w.to
	w.mu.Unlock()
	if !w.keep(phone) {
		return
	}
	office, err := net.Dial("tcp", to)
	if err != nil {
		return
	}
	defer w.drop(office)
	if !w.keep(office) {
		return
	}
	struck := make(chan *Fault, 1) // a fault to strike at the reply
	go func() {
		defer phone.Close()
		defer office.Close()
		for buf := make([]byte, 1<<16); ; {
			n, err := phone.Read(buf)
			if err != nil {
				return
			}
			if f := w.strikes(buf[:n]); f != nil {
				if !f.Reply {
					f.Do()
					return
				}
				struck <- f
			}
			if _, err := office.Write(buf[:n]); err != nil {
				return
			}
		}
	}()
	for buf := make([]byte, 1<<16); ; {
		n, err := office.Read(buf)
		if err != nil {
			return
		}
		select {
		case f := <-struck:
			f.Do()
			return
		default:
		}
		if _, err := phone.Write(buf[:n]); err != nil {
			return
		}
	}
}
