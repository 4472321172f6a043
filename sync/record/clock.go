package record

import (
	"fmt"
	"time"
)

// A Clock is a hybrid logical clock: 48 bits of milliseconds since 1970 and a
// 16-bit counter, in one number that orders as the two do. It follows the
// device's clock while that runs forward, and counts on when it does not.
//
// After S. Kulkarni et al., “Logical Physical Clocks”, OPODIS 2014; the guard
// against clocks far ahead is ours.
type Clock uint64

// FarAhead is how far before its own clock a device lets another one pull it.
// A phone ten years ahead would otherwise drag every later entry along.
const FarAhead = 24 * time.Hour

const counterBits = 16

// Tick is the clock of the next thing that happens on this device.
func (c Clock) Tick(now time.Time) Clock {
	return max(c+1, c, at(now)) // c alone: the last clock there is stays
}

// Witness is the clock after seeing a remote one. A remote clock more than
// FarAhead of now is not believed, and the second result says so.
func (c Clock) Witness(remote Clock, now time.Time) (Clock, bool) {
	if remote > at(now.Add(FarAhead)) {
		return c, false
	}
	return max(c, remote), true
}

// Time is the clock's millisecond part.
func (c Clock) Time() time.Time { return time.UnixMilli(int64(c >> counterBits)).UTC() }

// at is the first clock of a moment; before 1970 there is only zero.
func at(now time.Time) Clock {
	ms := min(max(now.UnixMilli(), 0), 1<<48-1)
	return Clock(ms) << counterBits
}

// String is the clock as it stands in a record: 12 hex digits of
// milliseconds, 4 of the counter.
func (c Clock) String() string { return string(c.append(nil)) }

func (c Clock) append(dst []byte) []byte {
	return fmt.Appendf(dst, "%012x-%04x", uint64(c>>counterBits), uint64(c&(1<<counterBits-1)))
}

// MarshalText is String.
func (c Clock) MarshalText() ([]byte, error) { return c.append(nil), nil }

// UnmarshalText reads what MarshalText wrote.
func (c *Clock) UnmarshalText(text []byte) error {
	v, ok := parseClock(string(text))
	if !ok {
		return malformed("clock", string(text), clockForm)
	}
	*c = v
	return nil
}

const clockForm = "a clock is 12 hex digits of milliseconds, a hyphen and 4 of a counter"

func parseClock(s string) (Clock, bool) {
	if len(s) != 17 || s[12] != '-' {
		return 0, false
	}
	var v uint64
	for i := range len(s) {
		if i == 12 {
			continue
		}
		n := nibble(s[i])
		if n < 0 {
			return 0, false
		}
		v = v<<4 | uint64(n)
	}
	return Clock(v), true
}

// nibble is the value of one lower-case hex digit, or -1.
func nibble(b byte) int {
	switch {
	case '0' <= b && b <= '9':
		return int(b - '0')
	case 'a' <= b && b <= 'f':
		return int(b-'a') + 10
	}
	return -1
}
