package still

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Line is one line of a draw log: what was read, and which receiver the
// spirit runs into from then on. A line with another receiver than the line
// before is a cut; what the old receiver held at the cut is a line of the old
// one just before it.
type Line struct {
	After      time.Duration // since the run began
	Receiver   string
	Strength   quantity.Reading // true strength of what comes over, none where it was not read
	Volume     quantity.Reading // in the receiver, none where it was not read
	VolumeTemp quantity.Reading // of that volume; where none, 20 °C (60 °F for gallons) give or take 5 °C
}

// Collected is what a draw log adds up to.
type Collected struct {
	Lines     []Gathered // one for each line
	Receivers []Receiver // in the order they were first used
}

// Gathered is the whole run as it stood at a line.
type Gathered struct {
	Line
	Coming spirit.Strength // what comes over, between readings by the clock
	Drawn  Liquid          // in all receivers together
	U      float64         // standard uncertainty of Drawn's pure alcohol, L
}

// A Receiver is what one receiver collected.
type Receiver struct {
	Name        string
	Holds       Liquid
	Volume      quantity.Figure // L at 20 °C
	PureAlcohol quantity.Figure // L at 20 °C
	Strength    quantity.Figure // % vol at 20 °C of all of it
	Guessed     float64         // kg that no volume was read for, put in at the flow of the run
	quantity.Explained
}

// Half-widths where an instrument's is not known (common practice, no source).
const (
	assumedVolume   = 0.01 // of the volume
	assumedTemp     = 5.0  // °C, of a volume whose temperature was not taken
	assumedStrength = 0.5  // % vol
	expansion       = 1e-3 // per °C, of spirit near 60 % vol, to turn that into volume
)

// Collect integrates a draw log, receiver by receiver. Between two volumes the
// mass grows evenly by the clock and the strength runs straight between its
// readings, so the alcohol is the trapezoid of mass fraction over mass, and
// temperature and contraction are in it: the mass is what the volume weighs at
// its own temperature and at the strength the receiver has by then (OIML R 22).
//
// A volume that was not read is bridged by the clock; past a receiver's last
// volume the flow of the run goes on, with half of that part in doubt, and
// Guessed says so. A strength that was not read is bridged the same way, and
// before the first and after the last it stays what it is. The uncertainty
// joins the volumes' (independent), the strengths' (one instrument, so they
// err together) and the trapezoid's own, taken as a sag of up to a quarter of
// the fall between two readings (common practice, no source).
func Collect(lines []Line) (Collected, error) {
	nodes, err := checkLines(lines)
	if err != nil {
		return Collected{}, err
	}
	segments := cut(nodes)
	flow := flows(segments)
	out := Collected{Lines: make([]Gathered, len(lines))}
	var tallies []*tally
	for i, seg := range segments {
		var before Liquid
		var t *tally
		variance := 0.0
		for _, other := range tallies {
			if other.name == seg.receiver {
				t = other
				continue
			}
			before, variance = before.Plus(other.liquid), variance+other.variance()
		}
		if t == nil {
			t = &tally{name: seg.receiver}
			tallies = append(tallies, t)
		}
		err := t.fill(seg.nodes, flow[i], func(n node) {
			if n.line >= 0 {
				out.Lines[n.line] = Gathered{Line: lines[n.line], Coming: mixture(n.p, 1-n.p), Drawn: before.Plus(t.liquid), U: math.Sqrt(variance+t.variance()) / pureDensity}
			}
		})
		if err != nil {
			return Collected{}, err
		}
	}
	for _, t := range tallies {
		out.Receivers = append(out.Receivers, t.receiver())
	}
	return out, nil
}

// A node is a line as the integration needs it; line is −1 where none stands: at
// the cut that ends a segment, and at an empty receiver before its first line.
type node struct {
	line    int
	minutes float64
	p, uP   float64 // mass fraction coming over, and its standard uncertainty
	volume  float64 // L at temp, NaN where not read
	uVolume float64
	temp    spirit.Celsius
	name    string
}

// A segment is a stretch of lines into one receiver.
type segment struct {
	receiver string
	nodes    []node
}

// checkLines reads the log, all faults at once, and bridges the strengths.
func checkLines(lines []Line) ([]node, error) {
	var faults fault.List
	nodes := make([]node, len(lines))
	last := -1 // the line whose strength was read last
	for i, l := range lines {
		field := func(s string) string { return "line " + strconv.Itoa(i+1) + " " + s }
		n := node{line: i, minutes: l.After.Minutes(), volume: math.NaN(), name: l.Receiver}
		if i > 0 && l.After < lines[i-1].After {
			faults = append(faults, fault.Fault{Code: fault.Conflict, Field: field("time"), Value: l.After.String(), Limit: "is before the line above it, " + lines[i-1].After.String(), Remedy: "put the lines in the order in which they happened"})
		}
		if !l.Volume.IsNone() {
			faults.Add(field("volume"), n.readVolume(l))
		}
		if l.Strength.IsNone() {
			nodes[i] = n
			continue
		}
		s, err := spirit.StrengthOf(l.Strength)
		faults.Add(field("strength"), err)
		n.p, n.uP = float64(s.MassFraction()), doubtOf(l.Strength)*massPer(s)
		nodes[i] = n
		for k := last + 1; k < i; k++ {
			part := 1.0
			if last >= 0 {
				part = 0.5
				if span := n.minutes - nodes[last].minutes; span > 0 {
					part = (nodes[k].minutes - nodes[last].minutes) / span
				}
			}
			from := nodes[max(last, 0)]
			nodes[k].p, nodes[k].uP = from.p+part*(n.p-from.p), max(from.uP, n.uP)
		}
		last = i
	}
	if last < 0 {
		faults = append(faults, fault.Fault{Code: TooLittle, Field: "strength", Limit: "no line has a strength", Remedy: "read the hydrometer at the parrot"})
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	for k := last + 1; k < len(nodes); k++ {
		nodes[k].p, nodes[k].uP = nodes[last].p, nodes[last].uP
	}
	return nodes, nil
}

// TooLittle is the fault of asking more than the readings bear.
const TooLittle fault.Code = "too-little"

func (n *node) readVolume(l Line) error {
	switch v := l.Volume; {
	case v.Unit().Dimension() != quantity.Volume:
		return fault.Fault{Code: fault.WrongUnit, Value: v.String(), Limit: "is not a volume", Remedy: "give it in gal or L"}
	case v.Decimal().IsNegative():
		return fault.Fault{Code: fault.TooLow, Value: v.String(), Limit: "is below 0", Remedy: "check the figure"}
	}
	n.volume, n.temp = l.Volume.In(quantity.Litre), spirit.At20C
	u := l.Volume.UncertaintyIn(quantity.Litre)
	if !l.Volume.HasHalfWidth() {
		u = assumedVolume * n.volume / math.Sqrt(3)
	}
	ofTemp := 0.0
	switch {
	case !l.VolumeTemp.IsNone():
		n.temp = spirit.TemperatureOf(l.VolumeTemp)
		ofTemp = l.VolumeTemp.UncertaintyIn(quantity.Celsius)
	default:
		ofTemp = assumedTemp / math.Sqrt(3)
		if l.Volume.Unit() == quantity.Gallon {
			n.temp = spirit.At60F
		}
	}
	n.uVolume = math.Hypot(u, expansion*ofTemp*n.volume)
	if math.IsNaN(float64(spirit.Strength{}.DensityAt(n.temp))) {
		return fault.Fault{Code: fault.TooHigh, Value: l.VolumeTemp.String(), Limit: "is outside −20 to 40 °C, where the density is known", Remedy: "cool the receiver and read it again"}
	}
	return nil
}

// doubtOf is the standard uncertainty of a strength reading, % vol.
func doubtOf(r quantity.Reading) float64 {
	switch {
	case !r.HasHalfWidth():
		return assumedStrength / math.Sqrt(3)
	case r.Unit() == quantity.Proof:
		return r.UncertaintyIn(quantity.Proof) / 2
	}
	return r.UncertaintyIn(r.Unit())
}

// massPer is the slope of mass fraction over % vol.
func massPer(s spirit.Strength) float64 {
	low := max(min(s.ABV20(), 99)-0.5, 0)
	a, errA := spirit.FromABV20(low)
	b, errB := spirit.FromABV20(low + 1)
	if errA != nil || errB != nil {
		panic("still: a strength left its scale") // held to 0 to 100 above
	}
	return float64(b.MassFraction() - a.MassFraction())
}

// cut parts the nodes at the changes of receiver; the moment of the cut ends
// the old segment too.
func cut(nodes []node) []segment {
	var out []segment
	for i, n := range nodes {
		if i == 0 || n.name != nodes[i-1].name {
			if i > 0 {
				end := n
				end.line, end.volume = -1, math.NaN()
				s := &out[len(out)-1]
				s.nodes = append(s.nodes, end)
			}
			out = append(out, segment{receiver: n.name})
		}
		s := &out[len(out)-1]
		s.nodes = append(s.nodes, n)
	}
	return out
}

// flows is for each segment the flow, in L/min, that stands in where no volume
// was read: between its own last two volumes, else that of the nearest segment
// before, else after; 0 where none is known.
func flows(segments []segment) []float64 {
	out := make([]float64, len(segments))
	begun := map[string]bool{}
	first := 0.0
	for i, s := range segments {
		if i > 0 {
			out[i] = out[i-1]
		}
		from := s.nodes[0]
		if math.IsNaN(from.volume) && !begun[s.receiver] {
			from.volume = 0
		}
		begun[s.receiver] = true
		for _, n := range s.nodes[1:] {
			if math.IsNaN(n.volume) {
				continue
			}
			if n.minutes > from.minutes && n.volume > from.volume {
				out[i] = (n.volume - from.volume) / (n.minutes - from.minutes)
				if first == 0 {
					first = out[i]
				}
			}
			from = n
		}
	}
	for i := range out {
		if out[i] == 0 {
			out[i] = first
		}
	}
	return out
}

// A tally is a receiver being filled.
type tally struct {
	name     string
	liquid   Liquid
	guessed  float64 // kg
	uLast    float64 // kg, of the last volume read
	meanLast float64 // mass fraction it counts with
	settled  float64 // variance of ethanol, kg², from volumes before the last, from the trapezoids and from guesses
	strength float64 // uncertainty from the strengths, kg
	working  quantity.Working
}

func (t *tally) variance() float64 {
	last := t.uLast * t.meanLast
	return t.settled + last*last + t.strength*t.strength
}

// fill runs a segment into the receiver and tells each of its nodes.
func (t *tally) fill(nodes []node, flow float64, tell func(node)) error {
	if start := nodes[0]; !math.IsNaN(start.volume) {
		// What stood in the receiver at its first line came over as that line does.
		start.line, start.volume = -1, math.NaN()
		nodes = append([]node{start}, nodes...)
	}
	tell(nodes[0])
	done := 0
	for i, n := range nodes[1:] {
		if math.IsNaN(n.volume) {
			continue
		}
		if err := t.bridge(nodes[done:i+2], tell); err != nil {
			return err
		}
		done = i + 1
	}
	for i := done + 1; i < len(nodes); i++ { // past the last volume the flow goes on
		if err := t.guess(nodes[i-1], nodes[i], flow); err != nil {
			return err
		}
		tell(nodes[i])
	}
	return nil
}

// guess goes on from a to b at a flow in L/min.
func (t *tally) guess(a, b node, flow float64) error {
	minutes, p := b.minutes-a.minutes, (a.p+b.p)/2
	switch {
	case minutes == 0:
		return nil
	case flow == 0:
		return fault.List{{Code: TooLittle, Field: "volume", Limit: "the log does not say how fast the spirit runs", Remedy: "read the receiver twice, some minutes apart"}}
	}
	kg := flow * minutes * float64(mixture(p, 1-p).DensityAt(spirit.At20C)) / 1000
	t.pour(kg, p)
	t.guessed += kg
	u := kg * p / 2 / math.Sqrt(3)
	t.settled += u * u
	t.working.Add(fmt.Sprintf("no volume was read for %.0f min: %.2f kg at the flow of the run, half of it in doubt, of %.2f %% by mass", minutes, kg, 100*p), quantity.Fixed(kg*p/pureDensity, 3)+" L pure")
	return nil
}

func (t *tally) pour(kg, p float64) {
	t.liquid.Ethanol += kg * p
	t.liquid.Water += kg * (1 - p)
}

// bridge fills the receiver from what it holds at the first node to the volume
// at the last, the nodes between by the clock.
func (t *tally) bridge(nodes []node, tell func(node)) error {
	end := nodes[len(nodes)-1]
	span := end.minutes - nodes[0].minutes
	parts := make([]float64, len(nodes)) // of the mass, between a node and the one before
	mean, uMean, sag := 0.0, 0.0, 0.0
	for i := 1; i < len(nodes); i++ {
		a, b := nodes[i-1], nodes[i]
		parts[i] = 1 / float64(len(nodes)-1)
		if span > 0 {
			parts[i] = (b.minutes - a.minutes) / span
		}
		mean += parts[i] * (a.p + b.p) / 2
		uMean += parts[i] * (a.uP + b.uP) / 2
		d := parts[i] * (b.p - a.p) / 4
		sag += d * d / 3
	}
	// The mass fills the volume at the strength it then has; the density hardly
	// moves with the strength, so a few rounds settle it.
	had, p := t.liquid, mean
	perLitre, mass := 0.0, had.Mass()
	for range 12 {
		if mass > 0 {
			p = (had.Ethanol + mean*(mass-had.Mass())) / mass
		}
		perLitre = float64(mixture(p, 1-p).DensityAt(end.temp)) / 1000
		mass = end.volume * perLitre
	}
	more, u := mass-had.Mass(), end.uVolume*perLitre
	if more < -2*math.Hypot(u, t.uLast)-1e-9 {
		return fault.List{{Code: fault.Conflict, Field: "line " + strconv.Itoa(end.line+1) + " volume", Value: quantity.Fixed(end.volume, 2) + " L",
			Limit: "is less than the receiver held before", Remedy: "check both readings, or log a cut if the receiver was emptied"}}
	}
	d := t.uLast * (t.meanLast - mean)
	t.settled += d*d + more*more*sag
	t.uLast, t.meanLast = u, mean
	t.strength += math.Abs(more) * uMean
	t.working.Add(fmt.Sprintf("to %.2f L: %.2f kg more, at a mean of %.2f %% by mass", end.volume, more, 100*mean), quantity.Fixed(more*mean/pureDensity, 3)+" L pure")
	for i := 1; i < len(nodes); i++ {
		t.pour(more*parts[i], (nodes[i-1].p+nodes[i].p)/2)
		tell(nodes[i])
	}
	return nil
}

func (t *tally) receiver() Receiver {
	u := math.Sqrt(t.variance())
	s := t.liquid.Strength()
	r := Receiver{Name: t.name, Holds: t.liquid, Guessed: t.guessed,
		PureAlcohol: quantity.Figure{Value: t.liquid.PureAlcohol(), Unit: quantity.Litre, U: u / pureDensity, HasU: true},
		Strength:    quantity.Figure{Value: s.ABV20(), Unit: quantity.ABV20, HasU: true}}
	if m := t.liquid.Mass(); m > 0 {
		uMass := math.Hypot(t.uLast, t.guessed/2/math.Sqrt(3))
		uP := math.Hypot(t.strength, math.Sqrt(t.settled)) / m
		r.Volume = quantity.Figure{Value: t.liquid.Volume(), Unit: quantity.Litre, U: uMass / m * t.liquid.Volume(), HasU: true}
		r.Strength.U = uP / massPer(s)
	} else {
		r.Volume = quantity.Figure{Unit: quantity.Litre, HasU: true}
	}
	working := t.working
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		*w = append(*w, working...)
		w.Add("together, over the density of pure alcohol at 20 °C, "+quantity.Fixed(pureDensity, 5)+" kg/L", r.PureAlcohol.Text(2))
		w.Add("volume at 20 °C of all of it", r.Volume.Text(2))
		w.Add("its strength", r.Strength.Text(2))
	})
	return r
}
