package spirit

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// MostStages is how many stages a reduction is planned in at the most.
const MostStages = 12

// lastStep is the last stage of a reduction, % vol: the last one or two are
// taken alone (common practice, no source).
const lastStep = 1.5

// StageStrengths are the strengths that a reduction in n stages goes through,
// its end included: each stage takes the same part of the way that is left, and
// the last no more than 1.5 % vol, so that 70 % vol comes to 40 by 51.1, 44.1 and
// 41.5 (common practice, no source, goes from 70 by 55, 45 and 41.5). To the
// tenth of % vol, or of a degree of proof where to is in proof.
func StageStrengths(from Strength, to quantity.Reading, n int) ([]quantity.Reading, error) {
	end, err := StrengthOf(to)
	var faults fault.List
	faults.Add("to", err)
	if err == nil && end.p >= from.p {
		faults.Add("to", fault.Fault{Code: fault.Conflict, Value: to.String(), Limit: "is not below the spirit's " + quantity.Fixed(from.In(to.Unit()), 1) + " " + to.Unit().Label(), Remedy: "water only lowers a strength; to raise it, add a stronger spirit"})
	}
	switch {
	case n < 1:
		faults.Add("stages", fault.Fault{Code: fault.TooLow, Limit: "a reduction has one stage at least", Remedy: "give the number of stages"})
	case n > MostStages:
		faults.Add("stages", fault.Fault{Code: fault.TooHigh, Limit: "a reduction is planned in twelve stages at the most", Remedy: "give fewer stages"})
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	way := from.ABV20() - end.ABV20()
	last := min(lastStep, way/float64(n))
	out := make([]quantity.Reading, 0, n)
	for k := 1; k < n; k++ {
		left := way * math.Pow(last/way, float64(k)/float64(n-1))
		s, err := FromABV20(end.ABV20() + left)
		if err != nil {
			return nil, err
		}
		out = append(out, quantity.FromDecimal(quantity.Snap(s.In(to.Unit())).Round(1), to.Unit()))
	}
	return append(out, to), nil
}
