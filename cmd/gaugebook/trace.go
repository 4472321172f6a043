package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// runTrace follows a lot both ways: to the fruit it came of, and to the bottles
// it became.
func runTrace(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("trace", "[--book FILE] [--json] LOT, an address such as heron41-12, a lot's name or the code on a bottle")
	asJSON := fs.Bool("json", false, "write it as JSON")
	if helped, err := parse(fs, args, stdout, 1, 1); helped || err != nil {
		return err
	}
	b, err := readBook(ctx, bookOf(fs))
	if err != nil {
		return err
	}
	lot, err := findLot(b.State(), fs.Arg(0))
	if err != nil {
		return err
	}
	t := traceOf(b.State(), lot)
	if *asJSON {
		enc := json.NewEncoder(stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(t)
	}
	return t.text(stdout)
}

// findLot takes an address, a name that one lot has, or a lot code.
func findLot(s *book.State, typed string) (*book.Lot, error) {
	if l := s.Lot(book.Address(typed)); l != nil {
		return l, nil
	}
	var named []*book.Lot
	for a, l := range s.Lots {
		b := s.Bottling(a)
		if l.Name == typed || b != nil && b.LotCode == typed {
			named = append(named, l)
		}
	}
	f := fault.Fault{Code: fault.Unknown, Field: "lot", Value: typed, Limit: "is no lot of this book", Remedy: "give the address of the entry that began it, such as heron41-12"}
	switch {
	case len(named) == 1:
		return named[0], nil
	case len(named) > 1:
		f.Code, f.Limit = fault.Conflict, "is the name of several lots"
		var all []book.Address
		for _, l := range named {
			all = append(all, l.Address)
		}
		f.Remedy = "give the address of one: " + joined(all)
	case s.Vessel(book.Address(typed)) != nil:
		f.Limit = "is a vessel"
		if held := s.Composition(book.Address(typed)); len(held) > 0 {
			var all []book.Address
			for _, h := range held {
				all = append(all, h.Lot)
			}
			f.Remedy = "trace what it holds: " + joined(all)
		}
	}
	return nil, f
}

// A trace is what a lot came of and what became of it.
type trace struct {
	Lot  step   `json:"lot"`
	From []step `json:"from"`
	Into []step `json:"into"`
	Held []step `json:"held"` // vessels that hold some of it now, with how much of what they hold it is
}

// A step is one lot of a trace. Share is how much of the traced lot came of it,
// or how much of it came of the traced lot, by alcohol (of mash by volume, of
// raw material by weight), from 0 to 1; none of what gives no alcohol.
type step struct {
	Address  string  `json:"address"`
	Name     string  `json:"name,omitempty"`
	Material string  `json:"material,omitempty"`
	Day      string  `json:"day,omitempty"`
	Away     int     `json:"away"`
	Share    float64 `json:"share,omitempty"`
	Amount   string  `json:"amount,omitempty"` // of a lot it came of: how much of that is in it
	Bottles  int64   `json:"bottles,omitempty"`
	Left     int64   `json:"left,omitempty"` // bottles still in the house
}

func traceOf(s *book.State, lot *book.Lot) *trace {
	t := &trace{Lot: stepOf(s, book.Trace{Lot: lot}), From: []step{}, Into: []step{}, Held: []step{}}
	for _, x := range s.Ancestry(lot.Address) {
		from := stepOf(s, x)
		from.Amount = amountOf(s, x)
		t.From = append(t.From, from)
	}
	sortSteps(t.From)
	reach := map[book.Address]float64{lot.Address: 1}
	for _, x := range s.Descent(lot.Address) {
		t.Into = append(t.Into, stepOf(s, x))
		reach[x.Lot.Address] = x.Share
	}
	sortSteps(t.Into)
	for a, v := range s.Vessels {
		var share float64
		for _, held := range s.Composition(a) {
			share += held.Share * reach[held.Lot]
		}
		if share > 0 {
			t.Held = append(t.Held, step{Address: string(a), Name: v.Name, Material: string(v.Content.Material), Share: part(share)})
		}
	}
	sortSteps(t.Held)
	return t
}

// sortSteps puts the nearest first, and of those the largest share.
func sortSteps(steps []step) {
	slices.SortStableFunc(steps, func(a, b step) int { return cmp.Or(cmp.Compare(a.Away, b.Away), cmp.Compare(b.Share, a.Share)) })
}

func stepOf(s *book.State, x book.Trace) step {
	out := step{Address: string(x.Lot.Address), Name: x.Lot.Name, Material: string(x.Lot.Material), Day: x.Lot.Begun.Day(), Away: x.Depth, Share: part(x.Share)}
	if b := s.Bottling(x.Lot.Address); b != nil {
		out.Bottles, out.Left = b.Good(), b.Left()
	}
	return out
}

// part is a share to a hundredth of a percent, the same on every machine.
func part(share float64) float64 { return math.Round(share*1e4) / 1e4 }

// amountOf is how much of a lot is in the traced one, in the measure of its
// material.
func amountOf(s *book.State, x book.Trace) string {
	n := int64(math.Round(x.Amount))
	show := func(value float64, metric, us quantity.Unit) string {
		if s.Convention() == book.Metric {
			us = metric
		}
		return quantity.Fixed(quantity.Figure{Value: value, Unit: metric}.In(us).Value, 1) + " " + us.Label()
	}
	switch m := x.Lot.Material; {
	case n <= 0 || m == book.DryGoods:
		return ""
	case m.Raw():
		return show(book.Mass(n).Kilograms(), quantity.Kilogram, quantity.Pound)
	case m.Fermenting():
		return show(book.Millilitres(n).Litres(), quantity.Litre, quantity.Gallon)
	}
	return s.Shown(book.Alcohol(n))
}

func (t *trace) text(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintln(&b, t.Lot.title())
	section := func(title, none string, steps []step) {
		fmt.Fprintf(&b, "\n%s\n", title)
		if len(steps) == 0 {
			fmt.Fprintln(&b, "  "+none)
			return
		}
		rows := make([][]string, len(steps))
		for i, s := range steps {
			share := "-"
			if s.Share > 0 {
				share = fmt.Sprintf("%.2f %%", s.Share*100)
			}
			rows[i] = []string{share, strings.Repeat("  ", max(0, s.Away-1)) + s.title(), s.Amount}
		}
		printTable(&b, "  ", 100, -1, []string{"", "", ""}, rows)
	}
	section("Came of (share of this lot; - for what gives no alcohol)", "nothing the book knows of", t.From)
	section("Became (how much of each is of this lot)", "nothing yet", t.Into)
	section("Is now in (how much of what the vessel holds)", "no vessel", t.Held)
	_, err := io.WriteString(w, b.String())
	return err
}

func (s step) title() string {
	words := filled(s.Name, s.Material, s.Day)
	if s.Bottles > 0 {
		words = append(words, fmt.Sprintf("%d bottles, %d in the house", s.Bottles, s.Left))
	}
	return strings.Join(words, ", ") + " (" + s.Address + ")"
}
