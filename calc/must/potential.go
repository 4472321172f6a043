package must

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Batch is material ready to ferment.
type Batch struct {
	Material string           // name of a Material
	Prepared quantity.Reading // weight that goes into the fermenter
	Extract  quantity.Reading // of its juice, corrected, Bx or SG; none where it was not read
}

// A Mark is one published yield, as litres of pure alcohol of a batch.
type Mark struct {
	Litres quantity.Figure
	Source string // publication and line
}

// An Expectation is the pure alcohol a batch can give, as spirit from the still.
type Expectation struct {
	PureAlcohol quantity.Figure // L at 20 °C, the likely one
	Low, High   quantity.Figure // L
	Marks       []Mark          // every published yield, lowest first
	Sugar       quantity.Figure // kg of extract in the batch; zero where the extract was not read
	Ceiling     quantity.Figure // L, more than which the sugar cannot give; zero where the extract was not read
	Mash        quantity.Figure // L of mash; zero for grain and cane, where the water decides
	quantity.Explained
}

// What the sugar of a juice can give at most: a refractometer shows at least
// 0.5 Bx of pulp besides sugar (common practice, no source), and a well-run
// mash turns at most 94 % of it into alcohol (handbook, from memory).
const (
	notSugar       = 0.5
	bestEfficiency = 0.94
)

// Expect sets a batch against the published yields. The lowest official rate is
// the low mark: a batch that gives less has lost something. The handbook's
// upper figure is the high mark, held down by what the sugar can give. The
// likely figure is the handbook's mean, scaled by the batch's Brix over the
// average Brix of 19 CFR 151.91 where both are known. Where no handbook is at
// hand the high mark is 1.6 times the official rate, above which practice looks
// for an error of record (no source), and the likely one lies midway.
func Expect(b Batch) (Expectation, error) {
	var faults fault.List
	m, ok := MaterialNamed(b.Material)
	if !ok {
		faults.Add("material", fault.Fault{Code: fault.Unknown, Value: b.Material, Limit: "is not in the yield tables", Remedy: "choose one of " + strings.Join(names(), ", ")})
	}
	faults.Add("prepared", checkAmount(b.Prepared, quantity.Mass))
	if !b.Extract.IsNone() {
		e, err := ExtractOf(b.Extract)
		faults.Add("extract", err)
		switch {
		case err == nil && ok && !m.Fruit():
			faults.Add("extract", fault.Fault{Code: fault.Conflict, Value: b.Extract.String(), Limit: "is given for " + m.Name + ", which has no juice", Remedy: "leave it out"})
		case err == nil && e <= 0:
			faults.Add("extract", fault.Fault{Code: fault.TooLow, Value: b.Extract.String(), Limit: "is not above 0 Bx", Remedy: "read the juice again"})
		}
	}
	if err := faults.Err(); err != nil {
		return Expectation{}, err
	}
	in := []quantity.Estimate{b.Prepared.EstimateIn(quantity.Kilogram), {}}
	if !b.Extract.IsNone() {
		in[1] = estimate(b.Extract)
	}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		e := Extract(m.Brix) // for the volume of the mash only
		read := !b.Extract.IsNone()
		if read {
			var err error
			if e, err = extractIn(b.Extract, x[1]); err != nil {
				return nil, fault.List{named(err, "extract")}
			}
		}
		return m.expect(x[0], e, read), nil
	})
	if err != nil {
		return Expectation{}, err
	}
	doubted := quantity.Doubted(b.Prepared, b.Extract)
	litre := func(i int) quantity.Figure { return quantity.FigureOf(out[i], quantity.Litre, doubted) }
	x := Expectation{PureAlcohol: litre(0), Low: litre(1), High: litre(2), Ceiling: litre(4)}
	x.Sugar = quantity.FigureOf(out[3], quantity.Kilogram, doubted)
	if m.Fruit() {
		x.Mash = litre(5)
	}
	for i, s := range m.marks() {
		x.Marks = append(x.Marks, Mark{Litres: litre(6 + i), Source: s.source})
	}
	slices.SortStableFunc(x.Marks, func(a, b Mark) int {
		switch {
		case a.Litres.Value < b.Litres.Value:
			return -1
		case a.Litres.Value > b.Litres.Value:
			return 1
		}
		return 0
	})
	x.Explained = quantity.Explain(func(w *quantity.Working) {
		if m.Fruit() {
			w.Add("litres of mash, its weight over the density of its juice", x.Mash.Text(0))
		}
		for _, mark := range x.Marks {
			w.Add(mark.Source, mark.Litres.Text(1))
		}
		if !b.Extract.IsNone() {
			w.Add("sugar by Brix, "+b.Prepared.String()+" × "+b.Extract.String(), x.Sugar.Text(1))
			w.Add("that sugar less 0.5 Bx for pulp, 94 % turned to alcohol: the ceiling", x.Ceiling.Text(1))
		}
		w.Add("low mark, the lowest official rate, or the lowest figure where there is none", x.Low.Text(1))
		w.Add("high mark, the handbook's upper figure (1.6 × the low mark where there is none), or the ceiling", x.High.Text(1))
		if m.Brix > 0 && !b.Extract.IsNone() && m.Yield.Mean > 0 {
			w.Add("likely, the handbook's mean × "+b.Extract.String()+" ÷ "+strconv.FormatFloat(m.Brix, 'f', -1, 64)+" ("+brixSource+")", x.PureAlcohol.Text(1))
		} else {
			w.Add("likely", x.PureAlcohol.Text(1))
		}
	})
	return x, nil
}

func names() []string {
	var out []string
	for _, m := range Materials() {
		out = append(out, m.Name)
	}
	return out
}

type source struct {
	per100 float64
	perKg  bool
	source string
}

// marks lists every published yield of the material.
func (m Material) marks() []source {
	var out []source
	for _, r := range m.Official {
		out = append(out, source{r.Litres, r.PerKg, r.Source + ", “" + r.Row + "”"})
	}
	if m.Yield.Mean > 0 {
		out = append(out, source{m.Yield.Low, true, m.YieldBy + ": lower figure"},
			source{m.Yield.Mean, true, m.YieldBy + ": mean"}, source{m.Yield.High, true, m.YieldBy + ": upper figure"})
	}
	return out
}

// expect is: likely, low, high, sugar, ceiling, mash, then every mark.
func (m Material) expect(kg float64, e Extract, read bool) []float64 {
	mash := kg / (float64(gravity(e)) * waterDensity20)
	per := func(s source) float64 {
		if s.perKg {
			return s.per100 * kg / 100
		}
		return s.per100 * mash / 100
	}
	low, high, likely := math.Inf(1), m.Yield.High*kg/100, m.Yield.Mean*kg/100
	for _, r := range m.Official {
		low = min(low, per(source{r.Litres, r.PerKg, ""}))
	}
	if math.IsInf(low, 1) {
		low = m.Yield.Low * kg / 100
	}
	if m.Yield.Mean == 0 {
		high, likely = 1.6*low, 1.3*low
	}
	sugar, ceiling := 0.0, 0.0
	if read {
		sugar = kg * float64(e) / 100
		ceiling = kg * max(0, float64(e)-notSugar) / 100 * bestEfficiency * ethanolPerHexose / ethanolDensity
		if m.Brix > 0 && m.Yield.Mean > 0 {
			likely *= float64(e) / m.Brix
		}
		high = min(high, ceiling)
		likely = min(likely, ceiling)
	}
	out := []float64{likely, min(low, likely), max(high, likely), sugar, ceiling, mash}
	for _, s := range m.marks() {
		out = append(out, per(s))
	}
	return out
}

// A Delivery is fruit at the gate.
type Delivery struct {
	Material    string
	Net         quantity.Reading   // as delivered; or Gross and Tare
	Gross, Tare quantity.Reading   // Tare with crates
	Prepared    quantity.Reading   // after sorting, washing, stoning, milling; none for all of it
	Samples     []quantity.Reading // extract of several samples, corrected, Bx or SG
	Price       quantity.Reading   // money for PriceOf; none where unknown
	PriceOf     quantity.Unit      // a unit of mass; NoUnit for the whole delivery
	Fermenters  []quantity.Reading // volumes of those that are free
	Fill        quantity.Reading   // how full, % of the volume; none for the material's own limit
}

// A Receipt answers a Delivery.
type Receipt struct {
	Net         quantity.Figure // kg
	Preparation quantity.Figure // prepared over net, %
	Brix        quantity.Figure // mean of the samples
	Spread      quantity.Figure // standard deviation of the samples, Bx; zero for fewer than two
	CostPerKg   quantity.Figure // of prepared fruit; zero where no price was given
	Fermenters  int             // how many of the free ones it fills, the largest first
	Unplaced    quantity.Figure // L of mash for which no free fermenter is left
	Expectation
}

// Receive works out a delivery. The volume of the mash is its weight over the
// density of its juice, 95 to 100 L of 100 kg.
func Receive(d Delivery) (Receipt, error) {
	var faults fault.List
	m, known := MaterialNamed(d.Material)
	net := d.Net
	switch {
	case d.Net.IsNone() && !(d.Gross.IsNone() && d.Tare.IsNone()):
		faults.Add("gross", checkAmount(d.Gross, quantity.Mass))
		faults.Add("tare", checkAmount(d.Tare, quantity.Mass))
		if len(faults) == 0 {
			f := quantity.Figure{Value: d.Gross.In(quantity.Kilogram) - d.Tare.In(quantity.Kilogram), Unit: quantity.Kilogram,
				U: math.Hypot(d.Gross.UncertaintyIn(quantity.Kilogram), d.Tare.UncertaintyIn(quantity.Kilogram)), HasU: quantity.Doubted(d.Gross, d.Tare)}
			if f.Value <= 0 {
				faults.Add("tare", fault.Fault{Code: fault.Conflict, Value: d.Tare.String(), Limit: "is not below the gross weight, " + d.Gross.String(), Remedy: "check which is which"})
			}
			net = f.Reading(6)
		}
	case !d.Gross.IsNone() || !d.Tare.IsNone():
		faults.Add("net", fault.Fault{Code: fault.Conflict, Value: d.Net.String(), Limit: "stands beside a gross weight or a tare", Remedy: "give the net weight, or gross and tare"})
	default:
		faults.Add("net", checkAmount(d.Net, quantity.Mass))
	}
	prepared := d.Prepared
	if prepared.IsNone() {
		prepared = net
	} else if faults.Add("prepared", checkAmount(prepared, quantity.Mass)); len(faults) == 0 && prepared.In(quantity.Kilogram) > net.In(quantity.Kilogram)*1.0000001 {
		faults.Add("prepared", fault.Fault{Code: fault.Conflict, Value: prepared.String(), Limit: "is more than was delivered, " + net.String(), Remedy: "check both weights"})
	}
	samples := make([]quantity.Estimate, len(d.Samples))
	for i, s := range d.Samples {
		if _, err := ExtractOf(s); err != nil {
			faults.Add("sample "+strconv.Itoa(i+1), err)
			continue
		}
		bx, err := quantity.Propagate([]quantity.Estimate{estimate(s)}, func(x []float64) ([]float64, error) {
			e, err := extractIn(s, x[0])
			return []float64{float64(e)}, err
		})
		faults.Add("sample "+strconv.Itoa(i+1), err)
		if err == nil {
			samples[i] = bx[0]
		}
	}
	if !d.Price.IsNone() {
		if d.Price.Unit().Dimension() != quantity.Money || d.Price.Float() < 0 {
			faults.Add("price", fault.Fault{Code: fault.WrongUnit, Value: d.Price.String(), Limit: "is not a sum of money", Remedy: "give it in USD or EUR"})
		}
		if d.PriceOf != quantity.NoUnit && d.PriceOf.Dimension() != quantity.Mass {
			faults.Add("price_of", fault.Fault{Code: fault.WrongUnit, Value: d.PriceOf.Symbol(), Limit: "is not a unit of mass", Remedy: "price the delivery, or a kg or lb of it"})
		}
	}
	for i, f := range d.Fermenters {
		faults.Add("fermenter "+strconv.Itoa(i+1), checkAmount(f, quantity.Volume))
	}
	fill := m.Fill()
	if !d.Fill.IsNone() {
		faults.Add("fill", checkBetween(d.Fill, percent("10"), percent("95"), "leave room for foam and the cap"))
		fill = d.Fill.Float() / 100
	}
	if err := faults.Err(); err != nil {
		return Receipt{}, err
	}
	mean, spread := average(samples)
	b := Batch{Material: d.Material, Prepared: prepared}
	if len(samples) > 0 {
		b.Extract = quantity.FigureOf(mean, quantity.Brix, mean.U > 0).Reading(6)
	}
	x, err := Expect(b)
	if err != nil {
		return Receipt{}, err
	}
	kg := prepared.In(quantity.Kilogram)
	r := Receipt{Expectation: x,
		Net:         quantity.FigureOf(net.EstimateIn(quantity.Kilogram), quantity.Kilogram, net.HasHalfWidth()),
		Preparation: quantity.Figure{Value: 100 * kg / net.In(quantity.Kilogram), Unit: quantity.Percent},
		Brix:        quantity.FigureOf(mean, quantity.Brix, mean.U > 0),
		Spread:      quantity.Figure{Value: spread, Unit: quantity.Brix},
		Unplaced:    quantity.Figure{Unit: quantity.Litre},
	}
	if !d.Price.IsNone() {
		of := 1.0
		if d.PriceOf != quantity.NoUnit {
			of = net.In(d.PriceOf)
		}
		r.CostPerKg = quantity.Figure{Value: d.Price.Float() * of / kg, Unit: d.Price.Unit()}
	}
	if known && m.Fruit() {
		r.Fermenters, r.Unplaced.Value = place(x.Mash.Value, fill, d.Fermenters)
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("prepared "+prepared.String()+" of "+net.String(), r.Preparation.Text(1))
		if len(samples) > 0 {
			w.Add("mean of "+strconv.Itoa(len(samples))+" samples, spread "+r.Spread.Text(2), r.Brix.Text(2))
		}
		if !d.Price.IsNone() {
			w.Add("cost of a kg of prepared fruit", r.CostPerKg.Text(2))
		}
		if len(d.Fermenters) > 0 {
			w.Add("free fermenters it fills, each to "+quantity.Fixed(100*fill, 0)+" %", strconv.Itoa(r.Fermenters))
			w.Add("mash with no fermenter left", r.Unplaced.Text(0))
		}
		*w = append(*w, x.Working()...)
	})
	return r, nil
}

func percent(s string) quantity.Reading { return quantity.MustParse(s, quantity.Percent) }

// average is the mean of samples with its standard uncertainty, the scatter of
// the mean (JCGM 100:2008, 4.2.3) and the instrument's own doubt, common to
// all, together; and the standard deviation of the samples.
func average(samples []quantity.Estimate) (mean quantity.Estimate, spread float64) {
	if len(samples) == 0 {
		return
	}
	n := float64(len(samples))
	instrument := 0.0
	for _, s := range samples {
		mean.Value += s.Value / n
		instrument += s.U / n
	}
	for _, s := range samples {
		spread += (s.Value - mean.Value) * (s.Value - mean.Value)
	}
	if n > 1 {
		spread = math.Sqrt(spread / (n - 1))
	} else {
		spread = 0
	}
	mean.U = math.Hypot(spread/math.Sqrt(n), instrument)
	return mean, spread
}

// place fills the free fermenters, the largest first.
func place(litres, fill float64, free []quantity.Reading) (used int, left float64) {
	var room []float64
	for _, f := range free {
		room = append(room, f.In(quantity.Litre)*fill)
	}
	slices.Sort(room)
	slices.Reverse(room)
	for _, v := range room {
		if litres <= 0 {
			break
		}
		litres -= v
		used++
	}
	return used, max(0, litres)
}
