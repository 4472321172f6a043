package book

// A LevelKind is what changed what a wooden vessel holds.
type LevelKind string

// The kinds of levels.
const (
	Filled   LevelKind = "filled"
	Topped   LevelKind = "topped up"
	Drawn    LevelKind = "drawn from"
	Emptied  LevelKind = "emptied"
	Regauge  LevelKind = "regauged"
	LossTold LevelKind = "loss told"
)

// A Level is what a wooden vessel held after an entry that was about how much
// there is in it.
type Level struct {
	Entry   Address
	On      Moment
	Kind    LevelKind
	Mass    Mass    // as the book has it from then on
	Alcohol Alcohol // likewise
	Found   Measure // of a regauge, whether or not the book took it over
	Weighed bool    // a regauge by weight: what the wood soaked up counts
}

// Aged is what wood did to the spirit that is in it, kept by the fold so that
// a store of thousands can be listed without looking at their entries.
type Aged struct {
	Levels  []Level // in book order, of all fillings
	Fills   int     // fillings in this book
	since   int     // of Levels: where the last filling stands
	Filling Moment  // when that was
	In      Measure // what went in since, less what was drawn
	Lost    Measure // what regauges and losses took since; less than nothing for a gain
	Gauged  Moment  // the last regauge since; the filling where there was none
}

// Current are the levels of the last filling, the filling first.
func (a *Aged) Current() []Level {
	if len(a.Levels) == 0 {
		return nil
	}
	return a.Levels[a.since:]
}

// Full reports whether the last filling is still in it.
func (a *Aged) Full() bool {
	return len(a.Levels) > 0 && a.Levels[len(a.Levels)-1].Kind != Emptied
}

// level notes what an entry made of a wooden vessel.
func (t *turn) level(v *Vessel, body Body) {
	a := &v.Aged
	c := &v.Content
	if !v.Wooden() || !c.Material.Accounted() && !c.Empty() {
		return
	}
	var was Level
	if n := len(a.Levels); n > 0 && a.Levels[n-1].Kind != Emptied {
		was = a.Levels[n-1]
	}
	now := Level{Entry: t.entry.address, On: t.now(), Mass: c.Mass, Alcohol: c.Alcohol}
	mass, alcohol := now.Mass-was.Mass, now.Alcohol-was.Alcohol
	lost := v.Gauge.Entry == now.Entry
	if lost {
		now.Found = v.Gauge.Measure
		if b, ok := body.(*SpiritGauged); ok {
			now.Weighed = b.Weighed()
		}
	}
	switch body.(type) {
	case *LossRecorded, *GainRecorded:
		lost = true
	}
	switch {
	case was.Entry == now.Entry && was.Entry != "": // touched twice
		return
	case now.Found == Measure{} && mass == 0 && alcohol == 0: // not as to how much
		return
	case was.Entry == "" && c.Empty(): // an empty barrel was gauged
		return
	case was.Entry == "":
		now.Kind = Filled
	case c.Empty():
		now.Kind = Emptied
	case now.Found != Measure{}:
		now.Kind = Regauge
	case lost:
		now.Kind = LossTold
	case mass < 0 || mass == 0 && alcohol < 0:
		now.Kind = Drawn
	default:
		now.Kind = Topped
	}
	a.Levels = append(a.Levels, now)
	if now.Kind == Regauge {
		a.Gauged = now.On
	}
	switch {
	case now.Kind == Filled:
		a.Fills++
		a.since = len(a.Levels) - 1
		a.In, a.Lost = Measure{Mass: mass, Alcohol: alcohol}, Measure{}
		a.Filling, a.Gauged = now.On, now.On
	case lost:
		a.Lost.Mass -= mass
		a.Lost.Alcohol -= alcohol
	default:
		a.In.Mass += mass
		a.In.Alcohol += alcohol
	}
}
