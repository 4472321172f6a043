package still

import (
	"math"
	"sort"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// An Outlook is where a run goes from its last line, if nothing is changed.
type Outlook struct {
	ToCome    quantity.Figure // L of pure alcohol until the end asked for
	Collected quantity.Figure // L of pure alcohol by then, with what was collected before
	Volume    quantity.Figure // L at 20 °C still to come
	Minutes   quantity.Figure // until then, none (no unit) where the log does not say how fast the spirit runs
	Curve     []Ahead         // from now to the end
	Likely    Way             // plates and reflux the projection rests on
	Readings  int             // behind it
	quantity.Explained
}

// Ahead is one point of what is to come.
type Ahead struct {
	Collected float64         // L of pure alcohol, in all
	Strength  quantity.Figure // % vol at 20 °C, with its uncertainty
}

// widest is the widest band worth showing, as a part of the charge's alcohol.
const widest = 0.25

// Ahead projects the run to the strength at which hearts are to end. The band
// is what the uncertainty of plates, reflux, charge and collected alcohol
// together leave open (JCGM 100:2008, 5.1; their correlations are in it). The
// model of vapour and liquid hardly matters, because the fitted plates take its
// error up (TestModelsAgreeAhead). Plates, reflux and heat are taken to stay as
// they are. It refuses a strength the run has already fallen below, and a band
// wider than a quarter of the charge.
func (k Knowledge) Ahead(end spirit.Strength) (Outlook, error) {
	now := k.potAt(k.best)
	if end.MassFraction() < leastEnd {
		return Outlook{}, fault.List{{Code: fault.TooLow, Field: "end", Value: abv(end), Limit: "is below 0.02 % vol, where nothing but water comes over", Remedy: "give the strength at which hearts are to end"}}
	}
	if y := MoleFraction(now.spirit).Strength(); y.MassFraction() <= end.MassFraction() {
		return Outlook{}, fault.List{{Code: fault.Conflict, Field: "end", Value: abv(end), Limit: "is not below what comes over now, " + abv(y) + " by the curve", Remedy: "give a lower strength: this one has been passed"}}
	}
	until := End{Spirit: end}.over()
	p := pot{k.eq, k.way(k.best)}
	stages := p.course(now, fine, until)
	toCome := stages[len(stages)-1].drawn.ethanol - now.drawn.ethanol
	out, err := quantity.Propagate(certain(), func(w []float64) ([]float64, error) {
		return k.course(k.spread(w), end, toCome), nil
	})
	if err != nil {
		return Outlook{}, err
	}
	litres := ethanolMolar / pureDensity
	if band := 2 * out[0].U; band > widest*k.charge.ethanol {
		return Outlook{}, fault.List{{Code: TooLittle, Field: "run", Limit: "leaves open where hearts end: " + quantity.Fixed(out[0].Value*litres, 1) + " L of pure alcohol to come, give or take " + quantity.Fixed(band*litres, 1),
			Remedy: "go on logging; the band narrows as the strength falls"}}
	}
	fig := func(v, u float64, unit quantity.Unit) quantity.Figure {
		return quantity.Figure{Value: v, U: u, Unit: unit, HasU: true}
	}
	last := k.last.Drawn.PureAlcohol()
	coming := moles{toCome, out[1].Value}.liquid()
	o := Outlook{
		ToCome:    fig(out[0].Value*litres, out[0].U*litres, quantity.Litre),
		Collected: fig(last+out[0].Value*litres, math.Hypot(out[0].U*litres, k.last.U), quantity.Litre),
		Volume:    fig(coming.Volume(), coming.Volume()*out[0].U/out[0].Value, quantity.Litre),
		Likely:    p.way,
		Readings:  k.Used,
	}
	for i, e := range out[2:] {
		o.Curve = append(o.Curve, Ahead{Collected: last + toCome*litres*float64(i)/points, Strength: fig(e.Value, e.U, quantity.ABV20)})
	}
	if flow, u := k.flow(); flow > 0 {
		minutes := (out[0].Value + out[1].Value) / flow
		o.Minutes = fig(minutes, minutes*math.Hypot(u, math.Hypot(out[0].U, out[1].U)/(out[0].Value+out[1].Value)), quantity.Minute)
	}
	o.Explained = quantity.Explain(func(w *quantity.Working) {
		*w = append(*w, k.Working()...)
		w.Add("from the pot as it is, drawn on (Rayleigh) until the spirit has fallen to "+abv(end)+", pure alcohol still to come", o.ToCome.Text(2))
		w.Add("as a volume at 20 °C of "+abv(coming.Strength()), o.Volume.Text(1))
		w.Add("with the "+quantity.Fixed(last, 2)+" L collected before", o.Collected.Text(2))
		if o.Minutes.Unit == quantity.Minute {
			w.Add("at the flow of the last readings", o.Minutes.Text(0))
		}
	})
	return o, nil
}

// points are the steps of the curve ahead.
const points = 20

// course is one way the run may go: ethanol and water until the end, and the
// strengths, in % vol, at even steps of toCome.
func (k *Knowledge) course(z [unknowns]float64, end spirit.Strength, toCome float64) []float64 {
	p, from, until := pot{k.eq, k.way(z)}, k.potAt(z), End{Spirit: end}.over()
	after := func(ethanol float64) func(stage) float64 {
		return func(s stage) float64 { return from.drawn.ethanol + ethanol - s.drawn.ethanol }
	}
	stages := p.course(from, coarse, until)
	last := stages[len(stages)-1]
	to := last.drawn.minus(from.drawn)
	if until(from) <= 0 { // past the end already: as far back as the curve's slope says
		next := p.course(from, coarse, after(toCome/10))
		slope := (from.spirit - next[len(next)-1].spirit) / (toCome / 10)
		to.ethanol = (from.spirit - float64(MoleFractionOf(end))) / slope
		to.water = to.ethanol * (1 - from.spirit) / from.spirit
	}
	if after(toCome)(last) > 0 {
		stages = append(stages[:len(stages)-1], p.course(last, coarse, after(toCome))...)
	}
	y := []float64{to.ethanol, to.water}
	for i := range points + 1 {
		y = append(y, strengthAt(stages, from.drawn.ethanol+toCome*float64(i)/points))
	}
	return y
}

// potAt is the pot at the last line.
func (k *Knowledge) potAt(z [unknowns]float64) stage {
	return pot{k.eq, k.way(z)}.at(k.fromPot, k.pot(z, k.fromPot))
}

// strengthAt is the strength in % vol when so much ethanol was drawn, straight
// between the stages.
func strengthAt(stages []stage, ethanol float64) float64 {
	i := sort.Search(len(stages)-1, func(i int) bool { return stages[i].drawn.ethanol >= ethanol })
	b := stages[i]
	y := b.spirit
	if i > 0 && b.drawn.ethanol > stages[i-1].drawn.ethanol {
		a := stages[i-1]
		y = a.spirit + (b.spirit-a.spirit)*(ethanol-a.drawn.ethanol)/(b.drawn.ethanol-a.drawn.ethanol)
	}
	return MoleFraction(y).Strength().ABV20()
}

// flow is how many moles come over in a minute by the last five lines at most,
// fitted straight over time, and its relative standard uncertainty; 0 where the
// clock does not say. A still boils even moles at even heat, whatever comes over.
func (k *Knowledge) flow() (perMinute, u float64) {
	lines := k.lesson.Lines[max(0, len(k.lesson.Lines)-5):]
	n := float64(len(lines))
	var mt, mm float64
	total := func(g Gathered) float64 { m := molesOf(g.Drawn); return m.ethanol + m.water }
	for _, g := range lines {
		mt += g.After.Minutes() / n
		mm += total(g) / n
	}
	var tt, tm float64
	for _, g := range lines {
		tt += (g.After.Minutes() - mt) * (g.After.Minutes() - mt)
		tm += (g.After.Minutes() - mt) * (total(g) - mm)
	}
	if tt == 0 || tm <= 0 {
		return 0, 0
	}
	slope, rest := tm/tt, 0.0
	for _, g := range lines {
		d := total(g) - mm - slope*(g.After.Minutes()-mt)
		rest += d * d
	}
	const steadiness = 0.05 // a fire is not steadier (common practice, no source)
	if n > 2 {
		u = math.Sqrt(rest/(n-2)/tt) / slope
	}
	return slope, math.Hypot(u, steadiness)
}
