package must

import (
	"math"
	"slices"
	"strconv"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Style is how a kind of mash ferments: the limits the checks are held
// against and what the forecast expects before it has seen a reading.
type Style struct {
	Name       string
	Days       float64 // a usual ferment
	MaxDays    float64 // after which it is past its days
	Cold, Warm float64 // °C
	PHLow      float64 // 0 for none
	PHHigh     float64
	Source     string

	quiet      float64 // days without change after which it counts as done
	finish     float64 // expected last extract, Bx, plus finishOE of the original
	finishOE   float64
	finishSD   float64 // its standard deviation, Bx
	finishSDOE float64 // and the same as a share of the original
}

// FruitMash is a mash of fruit: 10 to 20 days at 15 to 20 °C, ending at a
// serum of SG 1.000 to 1.015, for sorbitol and acids stay.
func FruitMash() Style {
	return Style{Name: "fruit mash", Days: 14, MaxDays: 28, Cold: 12, Warm: 28, PHLow: 2.7, PHHigh: 3.5,
		Source: "fruit distillers' associations (10 to 20 days, 15 to 20 °C, pH 3.0 to 3.2); the limits are common practice, no source",
		quiet:  3, finish: 1.9, finishSD: 1.2}
}

// GrainMash is a mash of grain: 48 to 96 hours, pH 5.2 to 5.6 falling to 3.8.
func GrainMash() Style {
	return Style{Name: "grain mash", Days: 3.5, MaxDays: 6, Cold: 18, Warm: 34, PHLow: 3.7, PHHigh: 5.8,
		Source: "Russell, Stewart and Kellershohn, Whisky and Other Spirits, from memory",
		quiet:  1, finishOE: 0, finishSD: 0.8}
}

// MolassesWash is a wash of molasses: 24 to 72 hours at 28 to 34 °C; about four
// tenths of what the hydrometer sees is ash and sugar that no yeast takes.
func MolassesWash() Style {
	return Style{Name: "molasses wash", Days: 3, MaxDays: 10, Cold: 22, Warm: 35, PHLow: 3.8, PHHigh: 5.8,
		Source: "The Alcohol Textbook, from memory",
		quiet:  1, finishOE: 0.25, finishSDOE: 0.05}
}

// SugarWash is a wash of raw sugar or panela, which ends well below water.
func SugarWash() Style {
	s := MolassesWash()
	s.Name, s.Days, s.finishOE, s.finishSDOE = "sugar wash", 5, -0.12, 0.05
	return s
}

// Finish is the extract at which a mash of that original extract is expected to
// end, with its standard deviation, Bx.
func (s Style) Finish(original float64) (mean, sd float64) {
	return s.finish + s.finishOE*original, s.finishSD + s.finishSDOE*original
}

// A Smell is a tapped word.
type Smell string

// The smells.
const (
	SmellFine     Smell = "fine"
	SmellSulphide Smell = "rotten egg"
	SmellSolvent  Smell = "solvent"
	SmellVinegar  Smell = "vinegar"
	SmellButter   Smell = "butter"
)

// A Check is one look at a fermenter; what was not read is none.
type Check struct {
	At       time.Duration // since the yeast went in
	Sample   Sample        // gravity
	MashTemp quantity.Reading
	PH       quantity.Reading
	Smell    Smell
}

// A Ferment is a fermenter's lot so far.
type Ferment struct {
	Style    Style
	Stone    bool             // a mash on its stones
	Original quantity.Reading // extract when the yeast went in, corrected, Bx or SG
	Volume   quantity.Reading // of mash; none where it is not needed
	Checks   []Check          // in order of time
	Now      time.Duration    // since the yeast went in
}

// A Point is one corrected extract.
type Point struct {
	Day     float64 // since the yeast went in
	Extract quantity.Figure
}

// An Assessment is where a ferment stands.
type Assessment struct {
	Points     []Point // the original first, then every hydrometer check
	Attenuated Attenuated
	Fall       quantity.Figure // Bx per day over the last two to three days
	CO2        quantity.Figure // kg per day at that fall
	CO2Gas     quantity.Figure // L per day
	HeatW      float64         // W, average
	RiseK      float64         // K per day without cooling
	Air        float64         // m3/h of outside air that keep the room under 5,000 ppm
	Sugar      quantity.Figure // kg fermented so far; zero where no volume was given
	Alcohol    quantity.Figure // L of pure alcohol so far; zero where no volume was given
	Advice     []Advice
}

// mashHeat is MJ/(kg K) of mash (common practice, no source).
const mashHeat = 0.004

// Assess corrects the checks and says what they mean. Advice follows published
// practice and is never a verdict; a refractometer's figure among the checks is
// left out of the extract.
func (f Ferment) Assess() (Assessment, error) {
	points, err := f.points()
	if err != nil {
		return Assessment{}, err
	}
	a := Assessment{Points: points}
	last := points[len(points)-1]
	present := last.Extract
	if top := points[0].Extract.Value; present.Value > top {
		present.Value = top // a reading's scatter before the start is no sugar made
	}
	if a.Attenuated, err = Attenuate(Attenuation{Original: points[0].Extract.Reading(6), Present: present.Reading(6)}); err != nil {
		return Assessment{}, err
	}
	a.Fall = fall(points)
	if !f.Volume.IsNone() {
		f.turnover(&a)
	}
	a.Advice = f.advise(points, a.Fall.Value)
	return a, nil
}

// points corrects every hydrometer check; the original stands at day 0.
func (f Ferment) points() ([]Point, error) {
	var faults fault.List
	oe, err := ExtractOf(f.Original)
	faults.Add("original", err)
	if err == nil && oe <= 0 {
		faults.Add("original", fault.Fault{Code: fault.TooLow, Value: f.Original.String(), Limit: "is not above 0 Bx", Remedy: "give the extract before the yeast went in"})
	}
	if !f.Volume.IsNone() {
		faults.Add("volume", checkAmount(f.Volume, quantity.Volume))
	}
	points := []Point{{0, extractFigure(f.Original, oe)}}
	before := time.Duration(0)
	for i, c := range f.Checks {
		name := "check " + strconv.Itoa(i+1)
		if c.At < before || c.At > f.Now {
			faults.Add(name, fault.Fault{Code: fault.Conflict, Value: c.At.String(), Limit: "is not between the check before it and now", Remedy: "correct the time of the check"})
		}
		before = c.At
		if !c.PH.IsNone() {
			faults.Add(name, checkBetween(c.PH, acidity("1"), acidity("9"), "calibrate the meter and read again"))
		}
		if !c.MashTemp.IsNone() {
			faults.Add(name, checkBetween(c.MashTemp, celsius("-5"), celsius("60"), "check the thermometer"))
		}
		if c.Sample.Reading.IsNone() || c.Sample.Instrument == Refractometer {
			continue
		}
		c.Sample.Fermenting = true
		corrected, err := Correct(c.Sample)
		faults.Add(name, err)
		points = append(points, Point{c.At.Hours() / 24, corrected.Extract})
	}
	return points, faults.Err()
}

// extractFigure is a corrected reading in Bx.
func extractFigure(r quantity.Reading, e Extract) quantity.Figure {
	if r.IsNone() {
		return quantity.Figure{Unit: quantity.Brix}
	}
	u := r.UncertaintyIn(r.Unit())
	if r.Unit() == quantity.SG {
		g := float64(gravity(e))
		u *= float64(fit(Gravity(g+5e-4))-fit(Gravity(g-5e-4))) / 1e-3
	}
	return quantity.Figure{Value: float64(e), Unit: quantity.Brix, U: u, HasU: r.HasHalfWidth()}
}

// fall is Bx per day from the last reading back over at least two days, or as
// far as there are readings; zero before there are two.
func fall(points []Point) quantity.Figure {
	last := points[len(points)-1]
	from := points[0]
	for i := len(points) - 2; i >= 0; i-- {
		from = points[i]
		if last.Day-from.Day >= 1.9 {
			break
		}
	}
	out := quantity.Figure{Unit: quantity.Brix}
	if days := last.Day - from.Day; days > 0.2 {
		out.Value = (from.Extract.Value - last.Extract.Value) / days
		out.U, out.HasU = math.Hypot(from.Extract.U, last.Extract.U)/days, last.Extract.HasU || from.Extract.HasU
	}
	return out
}

// turnover puts what depends on the volume, by Balling.
func (f Ferment) turnover(a *Assessment) {
	oe := Extract(a.Points[0].Extract.Value)
	now := Extract(a.Attenuated.ApparentExtract.Value)
	kg := f.Volume.In(quantity.Litre) * float64(gravity(oe)) * waterDensity20
	made := kg * balling(oe, now).alcoholPerOriginal()
	a.Sugar = quantity.Figure{Value: made * ballingExtract, Unit: quantity.Kilogram}
	a.Alcohol = quantity.Figure{Value: made / ethanolDensity, Unit: quantity.Litre}
	before := min(oe, max(now, now+Extract(a.Fall.Value)))
	daily := max(0, made-kg*balling(oe, before).alcoholPerOriginal())
	a.CO2 = quantity.Figure{Value: daily * ballingCO2, Unit: quantity.Kilogram}
	a.CO2Gas = quantity.Figure{Value: a.CO2.Value * co2Volume * 1000, Unit: quantity.Litre}
	heat := daily * ballingExtract * heatPerHexose
	a.HeatW = heat * 1e6 / 86400
	a.RiseK = heat / (kg * mashHeat)
	a.Air = Ventilation(a.CO2)
}

// advise holds the checks against the style.
func (f Ferment) advise(points []Point, fallNow float64) []Advice {
	var out []Advice
	say := func(code, finding, look, source string) { out = append(out, Advice{code, finding, look, source}) }
	const rescue = "Bisson and Butzke, Am. J. Enol. Vitic. 51, 168 (2000), from memory; limits: " + customary
	s := f.Style
	first, last := points[0], points[len(points)-1]
	finish, finishSD := s.Finish(first.Extract.Value)
	left := last.Extract.Value - finish
	days := f.Now.Hours() / 24
	temp, hasTemp := f.temperature()

	// Nothing has happened 36 h after pitching at 20 °C, 72 h at 12 °C.
	patience := 72 - 36*(min(max(temp, 12), 20)-12)/8
	lowest := first.Extract.Value
	for _, p := range points[1:] {
		lowest = min(lowest, p.Extract.Value)
	}
	started := first.Extract.Value-lowest > 0.3
	switch {
	case !started && last.Day*24 >= patience && len(points) > 1:
		say("not-started", "The extract has not fallen by 0.3 Bx "+hours(last.Day*24)+" after the yeast went in.", "The temperature of the mash first; then whether the yeast was alive when it went in, and the pH. Pitch again with freshly rehydrated yeast.", rescue)
	case started && left > 2 && span(points) >= 1.9 && fallNow*span(points) <= 0.3:
		say("stuck", "No fall of 0.3 Bx in "+hours(24*span(points))+", with about "+quantity.Fixed(left, 1)+" Bx to go.", "Temperature, then a gentle stir, then a small dose of yeast hulls; at last an adapted restart. No ammonium salt late.", rescue)
	case started && left > 2 && fallNow < 0.25*peak(points):
		say("sluggish", "It falls by "+quantity.Fixed(fallNow, 2)+" Bx a day, less than a quarter of its own best, with about "+quantity.Fixed(left, 1)+" Bx to go.", "Temperature, then a gentle stir; nutrient only while less than a third of the sugar is gone.", rescue)
	}
	if days >= s.Days && last.Day >= 0.9*s.Days && left >= max(2, 1.5*finishSD) {
		say("residual-high", "Day "+quantity.Fixed(days, 0)+": "+quantity.Fixed(last.Extract.Value, 1)+" Bx, "+quantity.Fixed(left, 1)+" above where such a mash ends.", "A sugar strip or titration: is it sugar, or pulp and sorbitol?", customary)
	}
	if len(points) > 2 {
		if p := points[len(points)-2]; last.Extract.Value-p.Extract.Value > 0.5 {
			say("extract-rose", "The extract rose from "+quantity.Fixed(p.Extract.Value, 1)+" to "+quantity.Fixed(last.Extract.Value, 1)+" Bx.", "Read again from a strained, degassed sample at 20 °C; was sugar or fruit added?", customary)
		}
	}
	if hasTemp {
		switch {
		case temp < s.Cold:
			say("too-cold", "The mash is at "+quantity.Fixed(temp, 1)+" °C, below "+quantity.Fixed(s.Cold, 0)+".", "Warm the room or the jacket slowly; below 10 °C most yeast stops.", s.Source)
		case temp > s.Warm:
			say("too-warm", "The mash is at "+quantity.Fixed(temp, 1)+" °C, above "+quantity.Fixed(s.Warm, 0)+".", "Cool now: aroma goes first, then the yeast. Stir, so that the middle is cooled too.", s.Source)
		}
	}
	f.advisePH(say)
	f.adviseSmell(say)
	f.adviseTime(say, left, days)
	return out
}

func (f Ferment) advisePH(say func(code, finding, look, source string)) {
	type reading struct{ hour, ph float64 }
	var phs []reading
	for _, c := range f.Checks {
		if !c.PH.IsNone() {
			phs = append(phs, reading{c.At.Hours(), c.PH.Float()})
		}
	}
	if len(phs) == 0 {
		return
	}
	now := phs[len(phs)-1]
	switch s := f.Style; {
	case now.ph > s.PHHigh:
		say("ph-high", "pH "+quantity.Fixed(now.ph, 2)+", above "+quantity.Fixed(s.PHHigh, 1)+": bacteria can work.", "Titrate a sample on the bench and acidify in steps; smell for butter and vinegar.", s.Source)
	case now.ph < s.PHLow:
		say("ph-low", "pH "+quantity.Fixed(now.ph, 2)+", below "+quantity.Fixed(s.PHLow, 1)+": the yeast is slowed.", "Calibrate the meter and read again; add no more acid.", s.Source)
	}
	for _, p := range phs[:len(phs)-1] {
		// A grain mash falls by more than a whole pH as it should.
		if move := now.ph - p.ph; now.hour-p.hour <= 48.5 && (move > 0.3 || move < -0.3 && f.Style.Name != GrainMash().Name) {
			say("ph-moving", "pH moved from "+quantity.Fixed(p.ph, 2)+" to "+quantity.Fixed(now.ph, 2)+" in "+hours(now.hour-p.hour)+": bacteria.", "Calibrate the meter, read again, smell; with a volatile acid smell, distil now.", customary)
			return
		}
	}
}

func (f Ferment) adviseSmell(say func(code, finding, look, source string)) {
	for _, c := range slices.Backward(f.Checks) {
		switch c.Smell {
		case "":
			continue
		case SmellVinegar:
			say("vinegar", "It smells of vinegar.", "Is the lid tight and the vessel full? Keep air out and bring the distillation forward; acetic acid only grows.", customary)
		case SmellSolvent:
			say("solvent", "It smells of solvent.", "Wild yeast or a warm start: keep air out, cool, bring the distillation forward and cut the heads with care.", customary)
		case SmellSulphide:
			say("sulphide", "It smells of rotten egg.", "The yeast lacks nitrogen: while less than a third of the sugar is gone, feed; later, stir gently and let the copper of the still take it.", customary)
		case SmellButter:
			say("butter", "It smells of butter: lactic bacteria.", "Read the pH; distil soon after the end.", customary)
		}
		return
	}
}

func (f Ferment) adviseTime(say func(code, finding, look, source string), left, days float64) {
	quiet := f.Now
	if n := len(f.Checks); n > 0 {
		quiet -= f.Checks[n-1].At
	}
	if quiet > 30*time.Hour {
		say("not-checked", "Not checked for "+hours(quiet.Hours())+".", "Gravity with its temperature, pH, smell.", customary)
	}
	switch {
	case f.Stone && days > 10 && left < 0.5:
		say("stone-fruit-done", "A finished mash lies on its stones.", "Distil within days of the end of gas: stones give off hydrogen cyanide as they lie.", "Commission Recommendation (EU) 2016/22; Codex CXC 70-2011")
	case days > f.Style.MaxDays:
		say("past-its-days", "Day "+quantity.Fixed(days, 0)+" of a ferment that usually takes "+quantity.Fixed(f.Style.Days, 0)+".", "No change for two to three days and no sugar on the strip: distil. Otherwise see why it is slow.", f.Style.Source)
	}
}

// temperature is the last mash temperature; without one a cellar's 18 °C, and
// false.
func (f Ferment) temperature() (float64, bool) {
	for _, c := range slices.Backward(f.Checks) {
		if !c.MashTemp.IsNone() {
			return c.MashTemp.In(quantity.Celsius), true
		}
	}
	return 18, false
}

// span is over how many days fall was taken.
func span(points []Point) float64 {
	last := points[len(points)-1]
	for i := len(points) - 2; i >= 0; i-- {
		if d := last.Day - points[i].Day; d >= 1.9 || i == 0 {
			return d
		}
	}
	return 0
}

// peak is the fastest fall so far, Bx per day.
func peak(points []Point) float64 {
	best := 0.0
	for n := 2; n <= len(points); n++ {
		best = max(best, fall(points[:n]).Value)
	}
	return best
}

func hours(h float64) string {
	if h >= 72 {
		return quantity.Fixed(h/24, 0) + " days"
	}
	return quantity.Fixed(h, 0) + " hours"
}
