package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/cmd/internal/rig"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// A writer is a phone of the scene, at the level of the wire.
type writer struct {
	bench   *bench
	session string
	push    exchange.Push
	chain   exchange.Chain
}

// writeScene writes this morning's run, and a bottling, into the demo: all
// invented. It gives how many entries the office has then.
func writeScene(b *bench, o *rig.Office) (entries int) {
	w := &writer{bench: b}
	w.join(o.Wire.URL)
	ago := func(minutes int) time.Time { return time.Now().Add(-time.Duration(minutes) * time.Minute) }

	still := w.write(ago(300), &book.VesselRegistered{Name: "Copper still", Use: book.Still, Capacity: read("150gal")})
	heads := w.write(ago(299), &book.VesselRegistered{Name: "Heads jar", Use: book.Receiver, Capacity: read("5gal")})
	hearts := w.write(ago(298), &book.VesselRegistered{Name: "Hearts can", Use: book.Receiver, Capacity: read("20gal")})
	tank := w.write(ago(297), &book.VesselRegistered{Name: "Hearts tank", Use: book.Tank, Capacity: read("300gal"), DipHalf: read("0.1gal")})
	bottler := w.write(ago(296), &book.VesselRegistered{Name: "Filling tank", Use: book.BottlingTank, Capacity: read("120gal"), DipHalf: read("0.1gal")})
	product := w.write(ago(295), &book.ProductRegistered{Name: "Quince brandy", Class: book.Brandy, Strength: read("80proof"), Bottle: read("750mL"), PerCase: 6})
	lowWines := w.write(ago(294), &book.VesselRegistered{Name: "Low wines tank", Use: book.Tank, Capacity: read("120gal")})
	held := func(at time.Time, vessel book.Address, what book.Material, volume, strength string) {
		w.write(at, &book.SpiritReceived{Vessel: vessel, Gauge: book.Gauge{Volume: read(volume), VolumeTemp: read("60F"), Strength: read(strength)},
			Reason: "on hand at opening", Class: book.Brandy, Material: what, Account: book.Storage})
	}
	held(ago(290), tank, book.Hearts, "36.5gal", "152proof")
	held(ago(289), bottler, book.Hearts, "48gal", "80proof")
	held(ago(288), lowWines, book.LowWines, "28gal", "62proof")

	bottling := w.write(ago(280), &book.BottlingOpened{Product: product, Tank: bottler, Gauge: book.Gauge{Volume: read("48gal"), VolumeTemp: read("60F"), Strength: read("80proof")}})
	for i, cases := range []int64{14, 12, 11} {
		w.write(ago(250-40*i), &book.BottlesCounted{Bottling: bottling, Cases: cases, Loose: int64(2 * i)})
	}
	w.write(ago(200), &book.BottlesSpoiled{Bottling: bottling, Reason: "low fill", Bottles: 2, PouredBack: true})
	w.write(ago(160), &book.BottlesSpoiled{Bottling: bottling, Reason: "broken", Bottles: 1})

	run := w.write(ago(150), &book.RunStarted{Still: still, Product: product, Way: "pot", Receiver: heads, Charge: []book.Charge{{Vessel: lowWines}}})
	line := func(minutes int, indicated, temp, volume, vapour, nose string) {
		w.write(ago(minutes), &book.DrawRead{Run: run, Indicated: read(indicated), Temp: read(temp), Volume: read(volume), Vapour: read(vapour), Nose: nose})
	}
	line(128, "171.5proof", "64.0F", "0.2gal", "172.4F", "sharp, like glue")
	line(118, "168.0proof", "64.6F", "0.5gal", "173.1F", "")
	w.write(ago(112), &book.ReceiverChanged{Run: run, Fraction: book.Hearts, Receiver: hearts, Nose: "quince comes through"})
	for i, r := range []struct{ indicated, temp, volume, vapour string }{
		{"165.5proof", "65.0F", "0.6gal", "173.6F"}, {"163.5proof", "65.2F", "1.7gal", "174.0F"}, {"161.0proof", "65.5F", "2.9gal", "174.5F"},
		{"158.5proof", "65.8F", "4.0gal", "175.2F"}, {"155.5proof", "66.0F", "5.2gal", "176.1F"},
	} {
		line(104-20*i, r.indicated, r.temp, r.volume, r.vapour, "")
	}
	w.send(o.Wire.URL)
	if _, err := fmt.Sscanf(o.Words[strings.Index(o.Words, ", with "):], ", with %d entries", &entries); err != nil {
		b.Fatalf("%q: %v", o.Words, err)
	}
	return entries + len(w.push.Lines)
}

func read(text string) (r quantity.Reading) {
	if err := r.UnmarshalText([]byte(text)); err != nil {
		panic(err) // the scene's own figures
	}
	return r
}

func (w *writer) join(url string) {
	body, err := json.Marshal(exchange.JoinRequest{Proto: exchange.Proto, Why: exchange.WhyNew})
	if err != nil {
		w.bench.Fatalf("%v", err)
	}
	var reply exchange.JoinReply
	cookies := w.post(url+exchange.PathJoin, exchange.ContentJSON, body, &reply)
	w.session, w.chain.Device = cookies[0].Value, reply.Device
	w.push.PushHeader = exchange.PushHeader{Proto: exchange.Proto, Epoch: reply.Epoch, Device: reply.Device}
}

// write seals one entry and gives its address.
func (w *writer) write(at time.Time, body book.Body) book.Address {
	kind := book.KindOf(body)
	noise := fmt.Appendf(nil, "scene %4d", len(w.push.Lines))
	line, next, err := exchange.Seal(w.chain, exchange.Contact{}, exchange.Draft{
		Kind: kind.Name, V: kind.Version, Body: book.Encode(body), Happened: record.StampOf(at), Written: record.StampOf(at), By: "MQ",
	}, record.NewID(at, [10]byte(noise)))
	if err != nil {
		w.bench.Fatalf("%s: %v", kind.Name, err)
	}
	w.chain, w.push.Lines = next, append(w.push.Lines, line)
	return book.MakeAddress(next.Device, uint64(next.Seq))
}

func (w *writer) send(url string) {
	var reply exchange.PushReply
	w.post(url+exchange.PathPush, exchange.ContentLines, w.push.Bytes(), &reply)
	for i, answer := range reply.Entries {
		if answer.State != exchange.New {
			w.bench.Fatalf("%s is %s: %v", w.push.Lines[i], answer.State, answer.Fault)
		}
	}
}

func (w *writer) post(url, kind string, body []byte, to any) []*http.Cookie {
	req, err := http.NewRequest(http.MethodPost, url, bytes.NewReader(body))
	if err != nil {
		w.bench.Fatalf("%v", err)
	}
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Authorization", "Bearer "+w.session)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		w.bench.Fatalf("%v", err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		w.bench.Fatalf("%s: %s %s %v", url, res.Status, raw, err)
	}
	if err := json.Unmarshal(raw, to); err != nil {
		w.bench.Fatalf("%s: %v", url, err)
	}
	return res.Cookies()
}
