package exchange_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/sync/simulate"
)

const header = `{"proto":1,"app":"b1","epoch":"e","device":"heron41"}`

func TestParsePush(t *testing.T) {
	for _, c := range []struct {
		why, body string
		lines     []string
	}{
		{"a header alone", header, nil},
		{"a header and its line end", header + "\n", nil},
		{"lines", header + "\na\nb\n", []string{"a", "b"}},
		{"the last line end is missing", header + "\na\nb", []string{"a", "b"}},
		{"an empty line is a line", header + "\na\n\nb\n", []string{"a", "", "b"}},
		{"fields of a later build", `{"proto":2,"colour":"red"}` + "\na\n", []string{"a"}},
	} {
		p, err := exchange.ParsePush([]byte(c.body))
		require.NoError(t, err, c.why)
		require.Len(t, p.Lines, len(c.lines), c.why)
		for i := range c.lines {
			assert.Equal(t, c.lines[i], string(p.Lines[i]), c.why)
		}
	}
	for _, c := range []struct {
		why, body string
		status    int
		field     string
	}{
		{"nothing", "", 400, "header"},
		{"no JSON", "hello\n", 400, "header"},
		{"no proto", "{}\n", 400, "header"},
		{"a record too many", header + strings.Repeat("\na", 501), 413, "records"},
		{"a byte too many", header + "\n" + strings.Repeat("a", exchange.MaxBytes-len(header)), 413, "body"},
	} {
		_, err := exchange.ParsePush([]byte(c.body))
		var refusal *exchange.Refusal
		require.ErrorAs(t, err, &refusal, c.why)
		assert.Equal(t, c.status, refusal.Status, c.why)
		assert.Equal(t, c.field, refusal.Faults[0].Field, c.why)
		assert.NotEmpty(t, refusal.Faults[0].Remedy, c.why)
	}
}

func TestParsePullQuery(t *testing.T) {
	mark := record.Mark{}.Next([]byte("a"))
	parse := func(since, limit, proto string) (exchange.PullQuery, error) {
		return exchange.ParsePullQuery(func(name string) string {
			return map[string]string{"since": since, "limit": limit, "proto": proto}[name]
		})
	}
	q, err := parse("", "", "")
	require.NoError(t, err)
	assert.Equal(t, exchange.PullQuery{Proto: 1, Limit: 500}, q)
	q, err = parse(mark.String(), "9999", "2")
	require.NoError(t, err)
	assert.Equal(t, exchange.PullQuery{Proto: 2, Since: mark, Limit: 500}, q)
	for _, bad := range [][3]string{{"x", "", ""}, {"0", "0", ""}, {"0", "-1", ""}, {"0", "ten", ""}, {"0", "1", "0"}} {
		_, err := parse(bad[0], bad[1], bad[2])
		var refusal *exchange.Refusal
		require.ErrorAs(t, err, &refusal, "%v", bad)
		assert.Equal(t, 400, refusal.Status)
	}
}

// FuzzPush holds that any body is refused whole or answered line by line, and
// that pushing it again adds nothing.
func FuzzPush(f *testing.F) {
	d := newDevice(&testing.T{}, "heron41")
	a, b := d.write("draw read"), d.write("recipe written")
	f.Add([]byte(header + "\n" + string(a) + "\n" + string(b) + "\n"))
	f.Add([]byte(header + "\n" + string(b) + "\n\n" + string(a)))
	f.Add([]byte(header + "\n" + string(a) + "\n" + strings.Replace(string(a), `"n":1`, `"n":2`, 1)))
	f.Add([]byte(`{"proto":1,"epoch":"other"}` + "\n" + string(a)))
	f.Add([]byte("\n\n\n"))
	f.Fuzz(func(t *testing.T, body []byte) {
		p, err := exchange.ParsePush(body)
		if err != nil {
			return
		}
		p.Epoch = ""
		again, err := exchange.ParsePush(p.Bytes())
		if err == nil { // the header's one spelling may be longer than a limit allows
			require.Equal(t, len(p.Lines), len(again.Lines))
		}
		m := simulate.NewMemory()
		receive := func() (reply exchange.PushReply) {
			require.NoError(t, m.Update(func(l exchange.Ledger) (err error) {
				reply, err = exchange.Receive(p, now, rights("heron41"), l)
				return err
			}))
			return reply
		}
		first := receive()
		second := receive()
		require.Len(t, first.Entries, len(p.Lines))
		require.Equal(t, first.Head, second.Head)
		for i, e := range second.Entries {
			require.NotContains(t, []exchange.State{exchange.New, exchange.Gap}, e.State, "line %d came twice", i)
			if e.ID != "" && first.Entries[i].ID != "" {
				require.Equal(t, first.Entries[i].ID, e.ID)
			}
		}
	})
}

// FuzzReply holds that a phone takes any answer from anywhere without falling
// over and without believing that an entry has arrived.
func FuzzReply(f *testing.F) {
	f.Add(200, []byte(`{"epoch":"e","now_ms":1,"head":"0","acked_through":1,"entries":[{"id":"","state":"new","seq":1}]}`))
	f.Add(200, []byte(`<html>`))
	f.Add(409, []byte(`{"epoch":"f","faults":[]}`))
	f.Add(413, []byte(``))
	f.Add(200, []byte(`{"epoch":"e","now_ms":1,"next":"0","head":"0"}`+"\n{}\n"))
	f.Fuzz(func(t *testing.T, status int, body []byte) {
		d := newDevice(t, "heron41")
		line := d.write("draw read")
		r, err := record.Decode(line)
		require.NoError(t, err)
		p := exchange.NewClient("b1", func() float64 { return 0.5 })
		effects := p.Step(exchange.Event{Opened: &exchange.Opened{Chain: d.chain, Contact: exchange.Contact{Epoch: "e"},
			Unsent: []exchange.Held{{ID: r.ID.String(), Line: string(line), State: exchange.Unsent}}}})
		for range 4 {
			var send *exchange.Send
			for _, e := range effects {
				if e.Send != nil {
					send = e.Send
				}
				if e.Store != nil {
					for _, held := range e.Store.Put {
						if held.ID == r.ID.String() && held.State != exchange.Unsent {
							require.Equal(t, 200, status)
							require.True(t, bytes.Contains(body, []byte(`"entries"`)) || bytes.Contains(body, []byte(held.ID)))
						}
					}
				}
			}
			if send == nil {
				return
			}
			effects = p.Step(exchange.Event{Replied: &exchange.Replied{ID: send.ID, Status: status, Body: string(body), WallMS: now.UnixMilli()}})
		}
	})
}
