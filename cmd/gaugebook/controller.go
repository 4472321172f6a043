package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/calc/fault"
	"gaugebook/server"
	"gaugebook/sync/exchange"
)

// runController stands in for a tank controller: it joins, sends the readings
// of some days back, and goes on until it is stopped.
func runController(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) error {
	fs := flags("controller", "[--server URL] [--demo | --key KEY | --code CODE] [--vessel ADDRESS …]")
	c := tankController{client: &http.Client{Timeout: 20 * time.Second}, now: time.Now, random: rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64()))}
	var demo bool
	var code string
	fs.StringVar(&c.server, "server", "http://127.0.0.1:8021", "`URL` of the book's server")
	fs.StringVar(&c.key, "key", "", "the controller's `KEY`, from when it joined")
	fs.StringVar(&code, "code", "", "`CODE` to join with, from gaugebook serve --controller")
	fs.BoolVar(&demo, "demo", false, "join a demo on this machine, and measure its fermenters")
	fs.Func("vessel", "`ADDRESS` of a fermenter, such as heron41-12; may be given again", func(a string) error {
		c.vessels = append(c.vessels, a)
		return nil
	})
	days := fs.Float64("days", 2, "how many days back to begin")
	every := fs.Duration("every", time.Minute, "time between readings; 0 to send those of the past and end")
	if helped, err := parse(fs, args, stdout, 0, 0); helped || err != nil {
		return err
	}
	if demo && len(c.vessels) == 0 {
		c.vessels = demoFermenters()
	}
	switch {
	case len(c.vessels) == 0:
		return fault.Fault{Code: fault.Missing, Field: "vessel", Limit: "a controller measures at least one fermenter", Remedy: "give its address with --vessel, as it stands in the office's list, or --demo"}
	case *days < 0 || *days > 30:
		return fault.Fault{Code: fault.TooHigh, Field: "days", Value: fmt.Sprint(*days), Limit: "is not 0 to 30", Remedy: "begin later"}
	}
	if c.key == "" {
		if err := c.join(ctx, code); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "joined as %s; its key is %s\nkeep the key: it is not shown again\n", c.device, c.key)
	}
	return c.work(ctx, *days, *every, stdout, stderr)
}

// demoFermenters are the fermenters of the demo with something in them.
func demoFermenters() (out []string) {
	b := book.New()
	seq := map[string]uint64{}
	for _, e := range demo.Eighteen() {
		seq[e.Device]++
		kind := book.KindOf(e.Body)
		at := func(t time.Time) book.Moment { return book.MomentAt(t.UnixMilli(), t.Format(time.RFC3339)) }
		b.Add(&book.Entry{ID: fmt.Sprint(e.Device, seq[e.Device]), Device: e.Device, Seq: seq[e.Device], Clock: fmt.Sprintf("%012x-0000", e.Written.UnixMilli()),
			Written: at(e.Written), Happened: at(e.Happened), By: e.By, Kind: kind.Name, Version: kind.Version, Body: e.Body, Raw: book.Encode(e.Body)})
	}
	for a := range b.State().Vessels {
		if len(b.State().Fermenting(a)) > 0 {
			out = append(out, string(a))
		}
	}
	return out
}

// A tankController is the box on the wall with its probes.
type tankController struct {
	server, device, key string
	vessels             []string
	client              *http.Client
	now                 func() time.Time
	random              *rand.Rand
	unsent              []map[string]string
}

func (c *tankController) join(ctx context.Context, code string) error {
	body, err := json.Marshal(map[string]string{"code": code})
	if err != nil {
		return err
	}
	var joined struct{ Device, Key string }
	if err := c.post(ctx, server.PathControllerJoin, body, &joined); err != nil {
		return err
	}
	c.device, c.key = joined.Device, joined.Key
	return nil
}

// work sends the past, then each new reading when it is due. What did not
// arrive is sent again with the next.
func (c *tankController) work(ctx context.Context, days float64, every time.Duration, stdout, stderr io.Writer) error {
	const step = 5 * time.Minute
	now := c.now()
	for at := now.Add(-time.Duration(days * 24 * float64(time.Hour))); at.Before(now); at = at.Add(step) {
		c.measure(at)
	}
	if err := c.send(ctx, true, stdout); err != nil {
		return err
	}
	if every <= 0 {
		return nil
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
		case <-ctx.Done():
			return nil
		}
		c.measure(c.now())
		if err := c.send(ctx, false, stdout); err != nil && ctx.Err() == nil {
			fmt.Fprintln(stderr, "not sent, tried again with the next reading:", err)
		}
	}
}

// measure reads every probe: a jacket that swings about its set point, a warmer
// afternoon, and the probe's own noise.
func (c *tankController) measure(at time.Time) {
	hours := float64(at.Unix()) / 3600
	for i, v := range c.vessels {
		temp := 18.5 + 0.7*float64(i%3) + 0.8*math.Sin(2*math.Pi*(hours-15)/24) + 0.4*math.Abs(2*math.Mod(hours/1.7, 1)-1) + 0.05*c.random.NormFloat64()
		c.unsent = append(c.unsent, map[string]string{"vessel": v, "at": at.Format(time.RFC3339), "temp": fmt.Sprintf("%.1fC", temp)})
	}
}

// send brings what is unsent, in requests that the server takes.
func (c *tankController) send(ctx context.Context, storeNow bool, stdout io.Writer) error {
	const most = 1000
	path := server.PathReadings
	if storeNow {
		path += "?store=now"
	}
	for len(c.unsent) > 0 {
		n := min(len(c.unsent), most)
		body, err := json.Marshal(map[string]any{"controller": "Stand-in", "readings": c.unsent[:n]})
		if err != nil {
			return err
		}
		var reply server.ReadingsReply
		if err := c.post(ctx, path, body, &reply); err != nil {
			return err
		}
		c.unsent = c.unsent[n:]
		fmt.Fprintf(stdout, "%d readings taken, %d known, %d stored, %d waiting\n", reply.Taken, reply.Known, reply.Stored, reply.Waiting)
		for _, f := range reply.Faults {
			fmt.Fprintln(stdout, f.Error())
		}
	}
	return nil
}

// post sends JSON and reads the answer, or the faults of a refusal.
func (c *tankController) post(ctx context.Context, path string, body []byte, out any) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimSuffix(c.server, "/")+path, bytes.NewReader(body))
	if err != nil {
		return fault.Fault{Code: fault.NotOneOf, Field: "server", Value: c.server, Limit: "is not an address: " + err.Error(), Remedy: "give it like http://127.0.0.1:8021"}
	}
	req.Header.Set("Content-Type", exchange.ContentJSON)
	if c.key != "" {
		req.Header.Set("Authorization", "Bearer "+c.key)
	}
	res, err := c.client.Do(req)
	if err != nil {
		return fault.Fault{Code: fault.Conflict, Field: "server", Value: c.server, Limit: "does not answer: " + err.Error(), Remedy: "start gaugebook serve there"}
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(io.LimitReader(res.Body, 1<<20))
	if err != nil {
		return err
	}
	if res.StatusCode != http.StatusOK {
		var refusal struct{ Faults fault.List }
		if json.Unmarshal(raw, &refusal) == nil && len(refusal.Faults) > 0 {
			return refusal.Faults
		}
		return errors.New(res.Status)
	}
	return json.Unmarshal(raw, out)
}
