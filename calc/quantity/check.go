package quantity

import "gaugebook/calc/fault"

// Between holds a needed figure between two others of its dimension. what is
// the figure with its article ("a temperature"), missing the remedy where none
// was given, remedy the one where it lies outside. The fault's Field is empty,
// for the caller to fill.
func Between(r Reading, what string, low, high Reading, missing, remedy string) error {
	u := low.Unit()
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: what + " is needed", Remedy: missing}
	case r.Unit().Dimension() != u.Dimension() || u.Dimension() == Strength && r.Unit() != u:
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not " + what, Remedy: "give it in " + u.Label()}
	case r.In(u) < low.Float():
		return fault.Fault{Code: fault.TooLow, Value: r.String(), Limit: "is below " + low.String(), Remedy: remedy}
	case r.In(u) > high.Float():
		return fault.Fault{Code: fault.TooHigh, Value: r.String(), Limit: "is above " + high.String(), Remedy: remedy}
	}
	return nil
}
