package still

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Guess is what is held of a still before its run has said anything: a value
// and a standard uncertainty for each. One without uncertainty is held fast.
type Guess struct {
	Plates quantity.Estimate
	Reflux quantity.Estimate // its uncertainty is a part of its value; TotalReflux where nothing is known
}

// GuessPot is a pot still: hood and neck work as 0.4 plates, give or take 0.4
// (common practice, no source; the shared note has 0.2 to 0.6).
func GuessPot() Guess {
	return Guess{Plates: quantity.Estimate{Value: 0.4, U: 0.4}, Reflux: quantity.Estimate{Value: TotalReflux()}}
}

// GuessColumn is a column with so many trays engaged: each works as 0.6 of a
// plate and the pot's hood as 0.3, and the dephlegmator returns about as much
// as is drawn, half to twice (common practice, no source).
func GuessColumn(trays int) Guess {
	n := float64(trays)
	return Guess{Plates: quantity.Estimate{Value: 0.3 + 0.6*n, U: 0.2 + 0.15*n}, Reflux: quantity.Estimate{Value: 1, U: 0.6}}
}

// A Lesson is a run so far.
type Lesson struct {
	Charge   Charge
	Lines    []Gathered // of Collect; those of one way of running, since plates or reflux were last changed
	Pressure Pressure
	Model    Model
	Guess    Guess
}

// Knowledge is what the run so far says of its still.
type Knowledge struct {
	Plates        quantity.Figure
	Reflux        quantity.Figure // TotalReflux where it was not known
	ChargeAlcohol quantity.Figure // L, as the run corrects it
	Scatter       float64         // of the readings about the curve, in their own standard uncertainties; about 1 where all is well
	Used          int             // readings
	Remark        string          // what a person should mind, "" for nothing
	quantity.Explained

	lesson  Lesson
	read    []Gathered // its lines with a strength
	eq      *Equilibrium
	charge  moles
	scale   [unknowns]float64 // standard uncertainties before the run, 0 for what is held fast
	best    [unknowns]float64 // in those
	spreads matrix            // of the answer, in those
	fromPot moles             // drawn at the last line
	last    Gathered
}

// The unknowns: effective plates, the logarithm of the reflux, the charge's
// alcohol and the alcohol collected, the last two as parts of themselves.
const unknowns = 4

// Doubts of a charge and of what was collected, where no instrument says
// (common practice, no source): a mash is known to 3 %, a receiver to 1 %.
const (
	assumedCharge    = 0.03
	assumedCollected = 0.01
)

// The least that is asked of a run before it is believed.
const (
	leastReadings = 4
	leastDrawn    = 0.03 // of the charge's alcohol, between the first reading and the last
)

// Learn fits effective plates and reflux to the strengths read so far. At each
// reading the pot holds what the charge held less what was collected; over that
// pot, the plates and the reflux sought give a strength (see Distil), and the
// one that was read differs from it by its own doubt. The fit is least squares
// with what was known before as further readings (Gauss-Newton with
// Levenberg's damping); the alcohol of the charge and of what was collected are
// fitted along, within their doubts, so that a misjudged mash does not pass for
// a plate. Where readings scatter more than their doubts say, the answer's
// uncertainty grows with them (Birge's ratio).
//
// It refuses, in words, fewer than 4 readings, less than 3 % of the charge's
// alcohol between the first and the last, and a strength that has not begun to
// fall beyond its doubt. Its band's coverage is measured in TestCoverage.
func Learn(l Lesson) (Knowledge, error) {
	k := Knowledge{lesson: l}
	var faults fault.List
	faults.Add("", l.Charge.check())
	eq, err := NewEquilibrium(l.Model, l.Pressure)
	faults.Add("pressure", err)
	faults.Add("", Way{l.Guess.Plates.Value, l.Guess.Reflux.Value}.check())
	var readings []Gathered
	for _, g := range l.Lines {
		if !g.Strength.IsNone() {
			readings = append(readings, g)
		}
	}
	if err := faults.Err(); err != nil {
		return Knowledge{}, err
	}
	k.eq, k.charge, k.Used = eq, molesOf(l.Charge.liquid()), len(readings)
	if err := enough(readings, k.charge); err != nil {
		return Knowledge{}, err
	}
	k.last = l.Lines[len(l.Lines)-1]
	k.fromPot = molesOf(k.last.Drawn)
	relative := func(f quantity.Figure, assumed float64) float64 {
		if f.HasU {
			return f.U / f.Value
		}
		return assumed
	}
	k.scale = [unknowns]float64{l.Guess.Plates.U, l.Guess.Reflux.U, relative(l.Charge.PureAlcohol, assumedCharge), assumedCollected}
	if q := k.last.Drawn.PureAlcohol(); k.last.U > 0 && q > 0 {
		k.scale[3] = k.last.U / q
	}
	k.read = readings
	k.fit()
	k.tell()
	return k, nil
}

func enough(readings []Gathered, charge moles) error {
	refuse := func(limit, remedy string) error {
		return fault.List{{Code: TooLittle, Field: "run", Limit: limit, Remedy: remedy}}
	}
	if n := len(readings); n < leastReadings {
		return refuse("has "+quantity.Fixed(float64(n), 0)+" readings of strength, and plates are not told from fewer than 4", "go on logging; strength and volume together tell most")
	}
	first, last := readings[0], readings[len(readings)-1]
	if drawn := molesOf(last.Drawn).ethanol; drawn >= charge.ethanol {
		return fault.List{{Code: fault.Conflict, Field: "charge", Value: quantity.Fixed(charge.ethanol*ethanolMolar/pureDensity, 2) + " L pure",
			Limit: "is less than was collected, " + quantity.Fixed(last.Drawn.PureAlcohol(), 2) + " L of pure alcohol", Remedy: "check the charge's volume and strength, and the receivers' volumes"}}
	}
	if between := molesOf(last.Drawn).ethanol - molesOf(first.Drawn).ethanol; between < leastDrawn*charge.ethanol {
		return refuse("has seen "+quantity.Fixed(100*between/charge.ethanol, 1)+" % of the charge's alcohol between its first reading and its last, and 3 % is the least", "go on logging, with the volume in the receiver")
	}
	a, b := first.Coming.ABV20(), last.Coming.ABV20()
	if doubt := 2 * math.Hypot(doubtOf(first.Strength), doubtOf(last.Strength)); a-b < doubt {
		return refuse("has not begun to fall: "+quantity.Fixed(a, 1)+" % vol at first, "+quantity.Fixed(b, 1)+" now, within "+quantity.Fixed(doubt, 1)+" of each other", "go on logging; leave out the readings from before the strength was steady")
	}
	return nil
}

// way and pot are the still and its pot as the unknowns have it.
func (k *Knowledge) way(z [unknowns]float64) Way {
	g := k.lesson.Guess
	return Way{
		Plates: min(max(g.Plates.Value+k.scale[0]*z[0], 0), 30),
		Reflux: g.Reflux.Value * math.Exp(k.scale[1]*z[1]),
	}
}

// pot is what is left when so much was drawn.
func (k *Knowledge) pot(z [unknowns]float64, drawn moles) moles {
	more := k.charge.ethanol * k.scale[2] * z[2]
	part := 1 + k.scale[3]*z[3]
	return moles{
		ethanol: max(k.charge.ethanol+more-drawn.ethanol*part, 1e-6*k.charge.ethanol),
		water:   max(k.charge.water-more*ethanolMolar/waterMolar-drawn.water*part, 1e-6*k.charge.water),
	}
}

// bare is the first unknown where there are no plates at all.
func (k *Knowledge) bare() float64 {
	if k.scale[0] == 0 {
		return math.Inf(-1)
	}
	return -k.lesson.Guess.Plates.Value / k.scale[0]
}

func (k *Knowledge) fit() {
	readings := k.read
	drawn := make([]moles, len(readings))
	for i, g := range readings {
		drawn[i] = molesOf(g.Drawn)
	}
	residuals := func(z [unknowns]float64) []float64 {
		way := k.way(z)
		out := make([]float64, len(readings))
		for i, g := range readings {
			y := k.eq.distillate(k.pot(z, drawn[i]).fraction(), way)
			out[i] = (MoleFraction(y).Strength().ABV20() - g.Coming.ABV20()) / doubtOf(g.Strength)
		}
		return out
	}
	cost := func(r []float64, z [unknowns]float64) float64 {
		sum := 0.0
		for _, v := range r {
			sum += v * v
		}
		for _, v := range z {
			sum += v * v
		}
		return sum
	}
	var z [unknowns]float64
	r := residuals(z)
	var normal matrix
	bare := k.bare()
	damping := 1e-3
	for range 60 {
		var slope [unknowns]float64
		normal, slope = k.normal(residuals, r, z)
		damped := normal
		for j := range damped {
			damped[j][j] += 1 + damping*normal[j][j]
			slope[j] += z[j]
		}
		if z[0] == bare && slope[0] > 0 { // fewer plates than none would fit better
			for j := range damped {
				damped[0][j], damped[j][0] = 0, 0
			}
			damped[0][0], slope[0] = 1, 0
		}
		step := damped.cholesky().solve(slope)
		next := z
		for j := range next {
			next[j] -= step[j]
		}
		next[0] = max(next[0], bare)
		size := 0.0
		for j := range next {
			size = max(size, math.Abs(next[j]-z[j]))
		}
		tried := residuals(next)
		if before, after := cost(r, z), cost(tried, next); after > before {
			damping *= 8
			if damping > 1e9 {
				break
			}
			continue
		}
		z, r, damping = next, tried, max(damping/8, 1e-9)
		if size < 1e-7 {
			break
		}
	}
	sum := 0.0
	for _, v := range r {
		sum += v * v
	}
	k.best = z
	k.Scatter = math.Sqrt(sum / float64(len(r)-2)) // the readings settle about two of the unknowns
	birge := max(k.Scatter, 1)
	for j := range normal {
		for i := range normal {
			normal[j][i] /= birge * birge
		}
		normal[j][j]++
	}
	k.spreads = normal.cholesky().inverse()
}

// normal is JᵀJ and Jᵀr of the residuals at z, by central differences.
func (k *Knowledge) normal(residuals func([unknowns]float64) []float64, r []float64, z [unknowns]float64) (jj matrix, jr [unknowns]float64) {
	const h = 1e-3
	var j [unknowns][]float64
	for i := range z {
		if k.scale[i] == 0 {
			continue
		}
		up, down := z, z
		up[i] += h
		if down[i] -= h; i == 0 {
			down[i] = max(down[i], k.bare())
		}
		j[i] = residuals(up)
		for m, v := range residuals(down) {
			j[i][m] = (j[i][m] - v) / (up[i] - down[i])
		}
	}
	for a := range z {
		for m := range j[a] {
			jr[a] += j[a][m] * r[m]
			for b := range z {
				if j[b] != nil {
					jj[a][b] += j[a][m] * j[b][m]
				}
			}
		}
	}
	return jj, jr
}

// A matrix is square, and here symmetric and positive, or lower triangular.
type matrix [unknowns][unknowns]float64

// cholesky is the lower triangle L with L Lᵀ the matrix.
func (m matrix) cholesky() (l matrix) {
	for i := range m {
		for j := 0; j <= i; j++ {
			sum := m[i][j]
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(sum)
			} else {
				l[i][j] = sum / l[j][j]
			}
		}
	}
	return l
}

// solve is x with L Lᵀ x = b.
func (m matrix) solve(b [unknowns]float64) [unknowns]float64 {
	for i := range b {
		for k := range i {
			b[i] -= m[i][k] * b[k]
		}
		b[i] /= m[i][i]
	}
	for i := unknowns - 1; i >= 0; i-- {
		for k := i + 1; k < unknowns; k++ {
			b[i] -= m[k][i] * b[k]
		}
		b[i] /= m[i][i]
	}
	return b
}

// inverse is L⁻¹ transposed: its columns spread as the covariance (L Lᵀ)⁻¹.
func (m matrix) inverse() (t matrix) {
	for j := range m {
		var b [unknowns]float64
		b[j] = 1
		for i := unknowns - 1; i >= 0; i-- {
			for k := i + 1; k < unknowns; k++ {
				b[i] -= m[k][i] * b[k]
			}
			b[i] /= m[i][i]
		}
		for i := range b {
			t[i][j] = b[i]
		}
	}
	return t
}

// spread is the unknowns moved by w independent standard uncertainties.
func (k *Knowledge) spread(w []float64) [unknowns]float64 {
	z := k.best
	for i := range z {
		for j, v := range w {
			z[i] += k.spreads[i][j] * v
		}
	}
	return z
}

// certain are the inputs of spread, for quantity.Propagate.
func certain() []quantity.Estimate {
	in := make([]quantity.Estimate, unknowns)
	for i := range in {
		in[i].U = 1
	}
	return in
}

func (k *Knowledge) tell() {
	out, err := quantity.Propagate(certain(), func(w []float64) ([]float64, error) {
		z := k.spread(w)
		way := k.way(z)
		return []float64{way.Plates, way.Reflux, k.pot(z, moles{}).ethanol * ethanolMolar / pureDensity}, nil
	})
	if err != nil {
		panic("still: " + err.Error()) // the function above refuses nothing
	}
	fig := func(e quantity.Estimate, u quantity.Unit) quantity.Figure {
		return quantity.Figure{Value: e.Value, Unit: u, U: e.U, HasU: true}
	}
	k.Plates, k.Reflux, k.ChargeAlcohol = fig(out[0], quantity.NoUnit), fig(out[1], quantity.NoUnit), fig(out[2], quantity.Litre)
	if math.IsInf(k.Reflux.Value, 1) {
		k.Reflux.HasU, k.Reflux.U = false, 0
	}
	held := k.lesson.Charge.PureAlcohol.Value
	switch moved := k.best[2]; {
	case k.Scatter > 3:
		k.Remark = "The readings do not follow any one number of plates: they lie " + quantity.Fixed(k.Scatter, 1) + " times their doubt from the best curve. If plates, reflux or heat were changed, count from then on."
	case math.Abs(moved) > 2:
		k.Remark = "The run fits a charge of " + k.ChargeAlcohol.Text(1) + " of pure alcohol better than the " + quantity.Fixed(held, 1) + " L it was entered with: check its volume and strength."
	}
	know := *k
	k.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add(quantity.Fixed(float64(know.Used), 0)+" readings; at each, the pot holds the charge less what was collected; at the last", abv(know.pot(know.best, know.fromPot).liquid().Strength()))
		w.Add("effective plates whose spirit meets the readings best (McCabe and Thiele, "+know.lesson.Model.String()+")", know.Plates.Text(2))
		if !math.IsInf(know.Reflux.Value, 1) {
			w.Add("reflux, moles back for each mole drawn", know.Reflux.Text(2))
		}
		w.Add("the charge's pure alcohol, "+know.lesson.Charge.PureAlcohol.Text(2)+" as entered, as the run has it", know.ChargeAlcohol.Text(2))
		w.Add("the readings lie from the curve, in their own standard uncertainties", quantity.Fixed(know.Scatter, 2))
	})
}

// abv is a strength in words.
func abv(s spirit.Strength) string { return quantity.Fixed(s.ABV20(), 2) + " % vol" }
