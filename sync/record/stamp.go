package record

import "time"

// A Stamp is a moment as a device or a person wrote it: RFC 3339 to the second
// or the millisecond, with the offset that clock showed, or Z. It stays text,
// because the offset someone's clock showed is part of what they wrote.
type Stamp string

// StampOf writes a time with its own offset, to the second, or to the
// millisecond if it has some.
func StampOf(t time.Time) Stamp {
	if t.Nanosecond()/1e6 == 0 {
		return Stamp(t.Format("2006-01-02T15:04:05Z07:00"))
	}
	return Stamp(t.Format("2006-01-02T15:04:05.000Z07:00"))
}

// Time is the moment with its offset; the zero time if it has not the form.
func (s Stamp) Time() time.Time {
	t, err := time.Parse(time.RFC3339, string(s))
	if _, ok := s.millis(); err != nil || !ok {
		return time.Time{}
	}
	return t
}

// UnixMilli is the moment in milliseconds since 1970, for ordering; it makes
// nothing on the heap.
func (s Stamp) UnixMilli() int64 {
	ms, _ := s.millis()
	return ms
}

const stampForm = "a time is RFC 3339 to the second or the millisecond with its offset, like 2026-11-25T09:09:32-05:00"

// millis reads "2026-11-25T09:09:32[.123](Z|±hh:mm)" and checks every part.
func (s Stamp) millis() (ms int64, ok bool) {
	const shape = "dddd-dd-ddTdd:dd:dd"
	if len(s) < len(shape)+1 || !fits(s[:len(shape)], shape) {
		return 0, false
	}
	year, month, day := s.digits(0, 4), s.digits(5, 7), s.digits(8, 10)
	hour, minute, second := s.digits(11, 13), s.digits(14, 16), s.digits(17, 19)
	if year < 1 || month < 1 || month > 12 || day < 1 || day > daysIn(year, month) || hour > 23 || minute > 59 || second > 59 {
		return 0, false
	}
	rest := s[len(shape):]
	if len(rest) > 4 && fits(rest[:4], ".ddd") {
		ms = int64(rest.digits(1, 4))
		rest = rest[4:]
	}
	offset := 0
	switch {
	case rest == "Z":
	case fits(rest, "+dd:dd"), fits(rest, "-dd:dd"):
		h, m := rest.digits(1, 3), rest.digits(4, 6)
		if h > 23 || m > 59 || rest == "-00:00" { // RFC 3339 §4.3: -00:00 is 'offset unknown'
			return 0, false
		}
		if offset = (h*60 + m) * 60; rest[0] == '-' {
			offset = -offset
		}
	default:
		return 0, false
	}
	seconds := int64(daysSince1970(year, month, day))*86400 + int64(hour*3600+minute*60+second-offset)
	return seconds*1000 + ms, true
}

// fits compares with a shape in which d stands for a digit.
func fits(s Stamp, shape string) bool {
	if len(s) != len(shape) {
		return false
	}
	for i := range len(shape) {
		digit := '0' <= s[i] && s[i] <= '9'
		if shape[i] == 'd' && !digit || shape[i] != 'd' && s[i] != shape[i] {
			return false
		}
	}
	return true
}

func (s Stamp) digits(from, to int) (n int) {
	for _, b := range []byte(s[from:to]) {
		n = n*10 + int(b-'0')
	}
	return n
}

func daysIn(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// daysSince1970 counts days of the Gregorian calendar, in years that begin in
// March so that the leap day is the last one.
func daysSince1970(year, month, day int) int {
	if month <= 2 {
		year--
		month += 12
	}
	const epoch = 719468 // 0000-03-01 to 1970-01-01
	return 365*year + year/4 - year/100 + year/400 + (153*(month-3)+2)/5 + day - 1 - epoch
}
