package must

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// An Extract is g of dissolved matter in 100 g of liquid, counted as sucrose:
// Brix, Plato and Balling, which differ by less than 0.005 below 20. Where
// alcohol is present it is the apparent extract, and can be below 0.
type Extract float64

// A Gravity is the specific gravity 20/20 °C, in air.
type Gravity float64

// The range of the fit, and how far below water a dry ferment reads.
const (
	minGravity Gravity = 0.98
	maxGravity Gravity = 1.17874
	minExtract Extract = -5.2
	maxExtract Extract = 40
)

// waterDensity20 is kg/L at 20 °C (OIML R 22 at 0 % vol).
const waterDensity20 = 0.99820123

// FromGravity is the extract of a specific gravity: the cubic fit to the table
// of NBS Circular 440 (1942), 1.000 to 1.17874, residual 0.0009 Bx by its
// authors; read at second hand. Below 1.000, where only a mash with alcohol
// reads, the cubic is carried on to 0.980. Against densities of sucrose
// solutions from a handbook of another origin: 0.02 Bx (TestExtractHandbook).
func FromGravity(g Gravity) (Extract, error) {
	switch {
	case !(g >= minGravity):
		return 0, fault.Fault{Code: fault.TooLow, Limit: "is below SG 0.980, lighter than any finished mash", Remedy: "check the reading; a spirit is read with another hydrometer"}
	case g > maxGravity:
		return 0, fault.Fault{Code: fault.TooHigh, Limit: "is above SG 1.17874 (40 Bx), the end of the table", Remedy: "dilute a weighed sample with as much water and double the result"}
	}
	return fit(g), nil
}

func fit(g Gravity) Extract {
	return Extract(((182.46007*g-775.68212)*g+1262.7794)*g - 669.56218)
}

// GravityOf is the inverse of FromGravity, -5.2 to 40 Bx.
func GravityOf(e Extract) (Gravity, error) {
	if err := checkExtract(e); err != nil {
		return 0, err
	}
	return gravity(e), nil
}

// gravity solves the cubic, which climbs over its whole range, by Newton.
func gravity(e Extract) Gravity {
	g := 1 + Gravity(e)/258
	for range 6 {
		g -= Gravity(fit(g)-e) / ((3*182.46007*g-2*775.68212)*g + 1262.7794)
	}
	return g
}

func checkExtract(e Extract) error {
	switch {
	case !(e >= minExtract):
		return fault.Fault{Code: fault.TooLow, Limit: "is below -5.2 Bx, lighter than any finished mash", Remedy: "check the reading"}
	case e > maxExtract:
		return fault.Fault{Code: fault.TooHigh, Limit: "is above 40 Bx, the end of the table", Remedy: "dilute a weighed sample with as much water and double the result"}
	}
	return nil
}

// GramsPerLitre is the extract in a litre at 20 °C: 20 Bx is 216 g/L, not 200.
func (e Extract) GramsPerLitre() float64 {
	return float64(e) * 10 * float64(gravity(e)) * waterDensity20
}

// An Index is a refractive index at 20 °C and 589 nm.
type Index float64

// FromIndex is the extract of a sugar solution of that refractive index: the
// polynomial fitted to the ICUMSA table, 1.3330 to 1.42 (0 to 49 Bx), read at
// second hand. Alcohol raises the index too: see Correct.
func FromIndex(n Index) (Extract, error) {
	switch {
	case !(n >= 1.3328):
		return 0, fault.Fault{Code: fault.TooLow, Limit: "is below 1.3328, less than water", Remedy: "set the refractometer to zero with distilled water"}
	case n > 1.42:
		return 0, fault.Fault{Code: fault.TooHigh, Limit: "is above 1.42, the end of the table", Remedy: "dilute a weighed sample and multiply the result"}
	}
	return Extract(((((11758.74*n-88885.21)*n+270177.93)*n-413145.80)*n+318417.95)*n - 99127.4536), nil
}

// ExtractOf is a corrected figure, in Bx or SG 20/20, as an extract.
func ExtractOf(r quantity.Reading) (Extract, error) {
	return extractIn(r, r.Float())
}

// extractIn is the extract of a figure x in the unit of r.
func extractIn(r quantity.Reading, x float64) (Extract, error) {
	var err error
	e := Extract(x)
	switch {
	case r.IsNone():
		return 0, fault.Fault{Code: fault.Missing, Limit: "the extract is needed", Remedy: "give it in Bx or as SG"}
	case r.Unit() == quantity.SG:
		e, err = FromGravity(Gravity(x))
	case r.Unit() == quantity.Brix:
		err = checkExtract(e)
	default:
		return 0, fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not an extract", Remedy: "give it in Bx or as SG"}
	}
	if f, ok := err.(fault.Fault); ok {
		f.Value = r.String()
		err = f
	}
	return e, err
}

// waterAt is the density of water, kg/m3.
func waterAt(t float64) (float64, error) {
	water, err := spirit.FromMassPercent(0)
	if err != nil {
		return 0, err
	}
	return float64(water.DensityAt(spirit.Celsius(t))), nil
}

// estimate is a reading in its own unit.
func estimate(r quantity.Reading) quantity.Estimate { return r.EstimateIn(r.Unit()) }

// checkAmount holds a typed figure to its dimension and above zero.
func checkAmount(r quantity.Reading, d quantity.Dimension) error {
	units := quantity.Units(d)
	want := "give it in " + units[0].Symbol() + " or another unit of " + d.String()
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: "a " + d.String() + " is needed", Remedy: want}
	case r.Unit().Dimension() != d:
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not a " + d.String(), Remedy: want}
	case r.Float() <= 0:
		return fault.Fault{Code: fault.TooLow, Value: r.String(), Limit: "is not above 0", Remedy: "check the figure"}
	}
	return nil
}

// checkBetween holds a figure between two others of its dimension.
func checkBetween(r quantity.Reading, low, high quantity.Reading, remedy string) error {
	u := low.Unit()
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: "a " + u.Dimension().String() + " is needed", Remedy: "give it in " + u.Symbol()}
	case r.Unit().Dimension() != u.Dimension():
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not a " + u.Dimension().String(), Remedy: "give it in " + u.Symbol()}
	case r.In(u) < low.Float():
		return fault.Fault{Code: fault.TooLow, Value: r.String(), Limit: "is below " + low.String(), Remedy: remedy}
	case r.In(u) > high.Float():
		return fault.Fault{Code: fault.TooHigh, Value: r.String(), Limit: "is above " + high.String(), Remedy: remedy}
	}
	return nil
}

// celsius is a temperature limit written in Go source.
func celsius(s string) quantity.Reading { return quantity.MustParse(s, quantity.Celsius) }
