package book

import (
	"fmt"
	"strconv"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// ClockDoubted marks what a device wrote while its clock was not the office's.
// The device writes it by itself, at its first contact with the office
// afterwards, and can speak of nobody's entries but its own.
type ClockDoubted struct {
	Off   quantity.Reading `key:"off,need" label:"Off by" unit:"d|h|min" min:"1min" max:"100000d" help:"The device's clock against the office's."`
	Way   string           `key:"way,need" label:"Which way" words:"ahead|behind"`
	First int64            `key:"first,need" label:"Number of the first entry" help:"On this device: the first that may bear the wrong time."`
	Last  int64            `key:"last,need" label:"Number of the last entry"`
}

func (b *ClockDoubted) sound(f *faults) {
	if b.Last < b.First {
		f.add(fault.TooLow, "last", strconv.FormatInt(b.Last, 10), fmt.Sprintf("comes before the first, %d", b.First), "give the number of the last entry by that clock")
	}
}

// A ClockDoubt is a stretch of a device's entries whose times may be wrong.
type ClockDoubt struct {
	ClockDoubted
	device string
}

// Says how far the clock was off: "3652 days ahead".
func (b *ClockDoubted) Says() string {
	units := map[quantity.Unit]string{quantity.Day: "days", quantity.Hour: "hours", quantity.Minute: "minutes"}
	return b.Off.Digits() + " " + units[b.Off.Unit()] + " " + b.Way
}

func (b *ClockDoubted) apply(t *turn) {
	device := t.entry.Device
	t.state.notes.clocks = append(t.state.notes.clocks, ClockDoubt{*b, device})
	first, last := MakeAddress(device, uint64(b.First)), MakeAddress(device, uint64(b.Last))
	which, others := string(first)+" was", []Address{first}
	if last != first {
		which, others = fmt.Sprintf("%s to %s were", first, last), append(others, last)
	}
	t.ask(ClockWrong, fmt.Sprintf("The clock of %s was %s when %s written. Correct the times that matter.", device, b.Says(), which), nil, others...)
}

// ClockOf says what is known of the clock by which an entry was written; ok is
// false where nothing is amiss.
func (s *State) ClockOf(a Address) (doubt ClockDoubt, ok bool) {
	_, digits, _ := strings.Cut(string(a), "-")
	n, err := strconv.ParseInt(digits, 10, 64)
	for _, c := range s.notes.clocks {
		if err == nil && c.device == a.Device() && c.First <= n && n <= c.Last {
			return c, true
		}
	}
	return ClockDoubt{}, false
}
