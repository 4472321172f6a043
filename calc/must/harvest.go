package must

import (
	"cmp"
	"slices"
)

// A Harvest is a season to be planned: what comes on which day, the fermenters
// it goes into, and the still that empties them. Days count from 0, today.
type Harvest struct {
	Days    int // to look ahead
	Tanks   []HarvestTank
	Loads   []HarvestLoad
	Batch   float64           // L of mash that one batch of the still takes
	Batches func(day int) int // of the still on a day
}

// A HarvestTank is a fermenter: what it may be filled with, L, and what is in it.
type HarvestTank struct {
	Name  string
	Room  float64
	Holds float64
	Ready int // the day on which what it holds is done
}

// A HarvestLoad is a delivery as the mash that is made of it.
type HarvestLoad struct {
	Name   string
	Day    int
	Litres float64
	Takes  int // days it ferments
}

// A Bottleneck is what holds a harvest up.
type Bottleneck string

// The bottlenecks. The tanks are one where a load finds no room and all that
// stands in them still ferments; the still is one where it finds no room while
// finished mash waits in them, or where mash waits more than MostWait days.
const (
	NoBottleneck Bottleneck = ""
	TheTanks     Bottleneck = "tanks"
	TheStill     Bottleneck = "still"
)

// MostWait is how many days finished mash may wait for the still: it is distilled
// within days of the end of its gas where it is of stone fruit or pears (common
// practice, no source).
const MostWait = 7

// A HarvestDay is how a day ends, in litres of mash.
type HarvestDay struct {
	Came, Waits     float64 // fruit that came; that stands in the yard without a tank
	Ferments, Ready float64
	Distilled       float64
	Batches, InUse  int
}

// A HarvestPlan is a season, day by day.
type HarvestPlan struct {
	Days       []HarvestDay
	Bottleneck Bottleneck
	On         int     // the day it shows
	Waits      float64 // L without a tank at the worst, or the litres that waited too long
	Free       []int   // per tank: the first day on which it is empty for good, −1 where it never is
}

// standing is a tank in the course of a plan.
type standing struct {
	room, litres float64
	ready        int
}

// Plan plays a season. In the morning the still takes the ripest mash, batch by
// batch; a tank it empties takes fruit the same evening. A load goes into the
// smallest empty tank that takes all of it, else into the largest; what finds no
// tank waits, and goes before what comes later. Loads are not mixed.
func (h Harvest) Plan() HarvestPlan {
	tanks := make([]standing, len(h.Tanks))
	out := HarvestPlan{Free: make([]int, len(h.Tanks))}
	for i, t := range h.Tanks {
		tanks[i] = standing{t.Room, t.Holds, t.Ready}
		if t.Holds > 0 {
			out.Free[i] = -1
		}
	}
	var yard []HarvestLoad
	limit := func(what Bottleneck, day int, litres float64) {
		if out.Bottleneck == NoBottleneck {
			out.Bottleneck, out.On = what, day
		}
		if out.Bottleneck == what {
			out.Waits = max(out.Waits, litres)
		}
	}
	for day := range h.Days {
		var d HarvestDay
		for b := h.Batches(day); b > 0; b-- {
			taken := distil(tanks, day, h.Batch)
			if taken == 0 {
				break
			}
			d.Batches++
			d.Distilled += taken
		}
		for _, l := range h.Loads {
			if l.Day == day {
				yard = append(yard, l)
				d.Came += l.Litres
			}
		}
		yard = fill(tanks, yard, day)
		late := 0.0
		for i, t := range tanks {
			switch {
			case t.litres == 0:
				if out.Free[i] < 0 {
					out.Free[i] = day
				}
				continue
			case t.ready <= day:
				d.Ready += t.litres
				if day-t.ready > MostWait {
					late += t.litres
				}
			default:
				d.Ferments += t.litres
			}
			d.InUse++
			out.Free[i] = -1
		}
		for _, l := range yard {
			d.Waits += l.Litres
		}
		switch {
		case d.Waits > 0 && d.Ready > 0:
			limit(TheStill, day, d.Waits)
		case d.Waits > 0:
			limit(TheTanks, day, d.Waits)
		case late > 0:
			limit(TheStill, day, late)
		}
		out.Days = append(out.Days, d)
	}
	return out
}

// distil takes one batch of the ripest mash, of several tanks where one has not
// enough, and gives its litres.
func distil(tanks []standing, day int, batch float64) (taken float64) {
	for batch-taken > 1e-9 {
		ripest := -1
		for i, t := range tanks {
			if t.litres > 0 && t.ready <= day && (ripest < 0 || t.ready < tanks[ripest].ready) {
				ripest = i
			}
		}
		if ripest < 0 {
			break
		}
		t := &tanks[ripest]
		n := min(batch-taken, t.litres)
		if t.litres -= n; t.litres < 1e-9 {
			t.litres = 0
		}
		taken += n
	}
	return taken
}

// fill puts what stands in the yard into empty tanks, and gives what is left.
func fill(tanks []standing, yard []HarvestLoad, day int) (left []HarvestLoad) {
	for _, l := range yard {
		for l.Litres > 1e-9 {
			best := -1
			for i, t := range tanks {
				if t.litres == 0 && t.room > 0 && (best < 0 || better(t.room, tanks[best].room, l.Litres)) {
					best = i
				}
			}
			if best < 0 {
				left = append(left, l)
				break
			}
			n := min(l.Litres, tanks[best].room)
			tanks[best].litres, tanks[best].ready = n, day+l.Takes
			l.Litres -= n
		}
	}
	slices.SortStableFunc(left, func(a, b HarvestLoad) int { return cmp.Compare(a.Day, b.Day) })
	return left
}

// better says whether a tank suits a load better than another: the smallest that
// takes all, else the largest.
func better(room, than, litres float64) bool {
	if fits, thanFits := room >= litres, than >= litres; fits != thanFits {
		return fits
	} else if fits {
		return room < than
	}
	return room > than
}

// LitresPerKilogram is the mash of a kilogram of raw material where a house has
// no lots of its own to go by: fruit 0.95 to 1.0; grain with three parts of
// water; molasses thinned to 20 Bx from about 80 (common practice, no source).
func LitresPerKilogram(material string) float64 {
	switch material {
	case "grain":
		return 3.6
	case "molasses":
		return 3.7
	}
	return 1
}

// RunningDays is a still's calendar: so many batches a day on the first so many
// days of the week, of which first is day 0 (0 for Monday).
func RunningDays(first, daysAWeek, batches int) func(day int) int {
	return func(day int) int {
		if (first+day)%7 < daysAWeek {
			return batches
		}
		return 0
	}
}
