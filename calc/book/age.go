package book

import (
	"slices"
	"time"

	"gaugebook/calc/cask"
)

// ripen brings the time that a vessel's content has spent in its wood into the
// content's parts, in whole days; what is left of a day counts later.
func (v *Vessel) ripen(now Moment) {
	c := &v.Content
	switch days := (now.ms - c.Wooded) / dayMs; {
	case !v.Wooden() || c.Empty():
	case c.Wooded == 0:
		c.Wooded = now.ms
	case days > 0:
		c.Parts = slices.Clone(c.Parts)
		for i := range c.Parts {
			c.Parts[i].Wood += int32(min(days, maxWood))
		}
		c.Wooded += days * dayMs
	}
}

const (
	dayMs   = 24 * 60 * 60 * 1000
	maxWood = 200 * 366 // no barrel is older
)

// An Age is how long spirit has been in wood.
type Age struct {
	Days                 int // in all
	Years, Months, Spare int // the same, as a tank record says it (27 CFR 19.592): whole years, months, and days
}

// AgeOf is an age of so many days that ends on the day of a moment.
func AgeOf(days int, on Moment) Age {
	end, ok := dayOf(Day(on.Day()))
	if !ok || days <= 0 {
		return Age{Days: days}
	}
	a := cask.Between(end.AddDate(0, 0, -days), end)
	return Age{Days: days, Years: a.Years, Months: a.Months, Spare: a.Days}
}

// String is the age in words: "4 years, 2 months, 11 days".
func (a Age) String() string {
	return cask.Age{Years: a.Years, Months: a.Months, Days: a.Spare, Total: a.Days}.String()
}

// Youngest is the time in wood of the youngest spirit in a vessel, the one an
// age statement goes by; ok is false where the book does not know it: an empty
// vessel, or spirit of a lot it does not know.
func (s *State) Youngest(vessel Address, on Moment) (age Age, ok bool) {
	v := s.Vessel(vessel)
	if v == nil {
		return Age{}, false
	}
	days, ok := v.YoungestDays(on)
	return aged(days, ok, on)
}

// YoungestDays is Youngest in days alone, for lists of many vessels.
func (v *Vessel) YoungestDays(on Moment) (days int, ok bool) {
	if !v.Content.Material.Accounted() {
		return 0, false
	}
	now := int64(0)
	if v.Wooden() && v.Content.Wooded != 0 {
		now = max(0, (on.ms-v.Content.Wooded)/dayMs)
	}
	return youngestDays(v.Content.Parts, now)
}

// youngest is the age of the youngest of some parts, so many days after what
// they say.
func youngest(parts []Part, days int64, on Moment) (age Age, ok bool) {
	least, ok := youngestDays(parts, days)
	return aged(least, ok, on)
}

func aged(days int, ok bool, on Moment) (Age, bool) {
	if !ok {
		return Age{}, false
	}
	return AgeOf(days, on), true
}

func youngestDays(parts []Part, days int64) (int, bool) {
	if len(parts) == 0 {
		return 0, false
	}
	least := int64(maxWood)
	for _, p := range parts {
		if p.Lot == "" && p.Amount > 0 {
			return 0, false
		}
		if p.Amount > 0 {
			least = min(least, int64(p.Wood))
		}
	}
	return int(min(least+days, maxWood)), true
}

// YoungestIn is Youngest of the spirit in a lot of bottles, on the day it was
// bottled.
func (b *Bottling) YoungestIn() (age Age, ok bool) {
	if b.Open() || len(b.From) == 0 {
		return Age{}, false
	}
	least := int32(maxWood)
	for _, p := range b.From {
		if p.Lot == "" {
			return Age{}, false
		}
		least = min(least, p.Wood)
	}
	return AgeOf(int(least), b.Closed), true
}

// Rested is how long what is in a vessel has been left alone.
func (v *Vessel) Rested(on Moment) time.Duration {
	since := v.Content.Since
	if v.Rest.Entry != "" {
		since = v.Rest.Begun
	}
	if since.IsNone() || v.Content.Empty() {
		return 0
	}
	return max(0, on.Since(since))
}
