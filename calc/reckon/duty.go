package reckon

import (
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/duty"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// worksheet ends what is said about tax.
const worksheet = "A worksheet: the proprietor checks and files, with licensed advice."

// proofGallonInput is a count of proof gallons, which are no volume.
func proofGallonInput(key, label, help string, required bool) Input {
	return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.NoUnit, "0", "100000000"}}, Required: required, Exact: true}
}

func tax() Calculation {
	return Calculation{
		Name:   "tax",
		Help:   "federal excise on proof gallons removed, split over the tiers of the calendar year",
		Source: "26 USC 5001(a)(1), (c)(1) (read); rates are dated data",
		Inputs: []Input{
			proofGallonInput("proof_gallons", "removed", "the proof gallons removed for sale", true),
			proofGallonInput("before", "earlier in the year", "the taxed proof gallons of the group earlier in the calendar year", false),
			proofGallonInput("allowance", "share of the lowest tier", "the proof gallons of the lowest tier that a controlled group leaves to this operation, all where none is given", false),
			{Key: "year", Label: "year", Help: "the calendar year, the latest rates where none is given", Scales: []Scale{{quantity.NoUnit, "2018", "2199"}}, Exact: true},
		},
		Outputs: []Output{
			{Key: "tax", Label: "tax", Units: "USD", Help: "to the cent"},
			{Key: "average", Label: "on average", Units: "USD", Help: "a proof gallon"},
			{Key: "tiers", Label: "over the tiers"},
			{Key: "year_to_date", Label: "in the year so far", Units: proofGallon},
		},
		Caution: worksheet,
		Example: []Given{{"proof_gallons", "250.4"}, {"before", "99900"}},
		run:     runTax,
	}
}

func runTax(s *sheet) {
	rates := duty.Rates()
	from := rates[len(rates)-1].From
	if s.given("year") {
		whole, ok := s.whole("year")
		if !ok {
			return
		}
		from = time.Date(whole, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	r := duty.Return{From: from, To: from, Rates: rates, Before: s.reading("before").Decimal(),
		Removals: []duty.Removal{{On: from, Purpose: duty.Sale, PG: s.reading("proof_gallons").Decimal()}}}
	if s.given("allowance") {
		r.Allowance = []decimal.Decimal{s.reading("allowance").Decimal()}
	}
	a, err := duty.Assess(r)
	if s.fail("proof_gallons", renamed(renamed(err, "allowance 1", "allowance"), "from", "year")) {
		return
	}
	usd := quantity.Figure{Unit: quantity.Dollar}
	s.legal("tax", a.Tax, usd, 2)
	if a.PG.IsPositive() {
		s.legal("average", a.Tax.DivRound(a.PG, 4), usd, 4)
	}
	words := ""
	for _, t := range a.Tiers {
		if !t.PG.IsZero() {
			if words != "" {
				words += "; "
			}
			words += t.PG.String() + " × " + t.Rate.StringFixed(2) + " = " + t.Tax.StringFixed(3) + " USD"
		}
	}
	if words != "" {
		s.word("tiers", words)
	}
	s.legal("year_to_date", a.Year, quantity.Figure{}, 1)
	s.answer.Method, s.answer.Explained = "rates on file from "+from.Format(time.DateOnly), a.Explained
	if s.given("year") {
		s.answer.Method = "rates on file for " + s.typed("year")
	}
}

// whole is an input that is a whole number.
func (s *sheet) whole(key string) (int, bool) {
	d := s.reading(key).Decimal()
	if !d.IsInteger() {
		s.fail(key, fault.Fault{Code: fault.NotANumber, Field: key, Value: s.typed(key), Limit: "is not a whole number", Remedy: "leave out the decimals"})
		return 0, false
	}
	return int(d.IntPart()), true
}

func effectiveRate() Calculation {
	return Calculation{
		Name:   "effective-rate",
		Help:   "effective tax rate of a product with wine or flavours in it, for the spirits rate of its tier",
		Source: "26 USC 5010; 27 CFR 19.246 (copy of 2015); wine rates of 26 USC 5041(b) from memory",
		Inputs: []Input{
			proofGallonInput("spirits", "spirits", "the proof gallons of spirits in the batch, without those of flavours", true),
			{Key: "wine", Label: "wine", Help: "the wine gallons of an eligible wine at its strength", Scales: volumesUS(), At: []Scale{{quantity.ABV20, "0.5", "24"}}, Repeatable: true, Exact: true},
			proofGallonInput("flavours", "flavours", "the proof gallons of eligible flavours", false),
			{Key: "rate", Label: "spirits rate", Help: "the rate of the tier that the removal falls into", Scales: []Scale{{quantity.Dollar, "0", "1000"}}, Required: true, Exact: true},
		},
		Outputs: []Output{
			{Key: "rate", Label: "effective rate", Units: "USD", Help: "a proof gallon, to the cent"},
			{Key: "unrounded", Label: "unrounded", Units: "USD"},
			{Key: "proof_gallons", Label: "proof gallons in all", Units: proofGallon},
			{Key: "excess", Label: "flavours beyond the free share", Units: proofGallon},
			{Key: "tax", Label: "tax on the batch", Units: "USD"},
		},
		Caution: worksheet,
		Example: []Given{{"spirits", "2249.1"}, {"wine", "2265.0gal@14%"}, {"wine", "1020.0gal@19%"}, {"flavours", "100.9"}, {"rate", "13.50"}},
		run:     runEffectiveRate,
	}
}

func runEffectiveRate(s *sheet) {
	f := duty.Formula{Spirits: s.reading("spirits").Decimal(), Flavours: s.reading("flavours").Decimal()}
	for _, w := range s.figures["wine"] {
		if w.wanted {
			s.fail("wine", fault.Fault{Code: fault.Missing, Field: "wine", Value: w.typed, Limit: "has no amount", Remedy: "give the wine gallons"})
			return
		}
		gallons := w.amount.Decimal()
		if w.amount.Unit() != quantity.Gallon {
			gallons = quantity.Snap(w.amount.In(quantity.Gallon))
		}
		f.Wines = append(f.Wines, duty.Wine{Gallons: gallons, ABV: w.at.Decimal()})
	}
	e, err := f.Rate(s.reading("rate").Decimal(), 2)
	if s.fail("spirits", numbered(err, "wine", s.figures["wine"])) {
		return
	}
	usd := quantity.Figure{Unit: quantity.Dollar}
	s.legal("rate", e.Rate, usd, 2)
	s.legal("unrounded", e.Unrounded, usd, 6)
	s.legal("proof_gallons", e.ProofGallons, quantity.Figure{}, 1)
	s.legal("excess", e.Excess, quantity.Figure{}, 1)
	s.legal("tax", e.Tax, usd, 3)
	s.answer.Method, s.answer.Explained = "27 CFR 19.246", e.Explained
}

func dueDate() Calculation {
	whole := func(key, label, help, low, high string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.NoUnit, low, high}}, Exact: true}
	}
	return Calculation{
		Name:   "due-date",
		Help:   "when the tax return is due for the period that a day falls into",
		Source: "27 CFR 19.235 to 19.237 (copies of 2015 and 2022; September's rule: check before use); holidays of 5 USC 6103",
		Inputs: []Input{
			func() Input { i := whole("year", "year", "the year", "2018", "2199"); i.Required = true; return i }(),
			func() Input {
				i := whole("month", "month", "the month, 1 to 12", "1", "12")
				i.Required = true
				return i
			}(),
			func() Input {
				i := whole("day", "day", "the day of the month", "1", "31")
				i.Required = true
				return i
			}(),
			{Key: "owed", Label: "tax a year", Help: "the larger of what was owed last year and is expected this year, which decides how often a return is filed; semi-monthly where none is given", Scales: []Scale{{quantity.Dollar, "0", "1000000000"}}, Exact: true},
			whole("electronic", "paid by transfer", "1 where tax is paid by electronic transfer, 0 by cheque; it matters in September", "0", "1"),
		},
		Outputs: []Output{
			{Key: "due", Label: "due"},
			{Key: "period", Label: "for the period"},
			{Key: "frequency", Label: "filed"},
			{Key: "rule", Label: "rule"},
		},
		Caution: worksheet,
		Example: []Given{{"year", "2026"}, {"month", "11"}, {"day", "20"}},
		run:     runDueDate,
	}
}

func runDueDate(s *sheet) {
	var n [4]int
	for i, key := range []string{"year", "month", "day", "electronic"} {
		var ok bool
		if n[i], ok = s.whole(key); !ok {
			return
		}
	}
	on := time.Date(n[0], time.Month(n[1]), n[2], 0, 0, 0, 0, time.UTC)
	if on.Day() != n[2] {
		s.fail("day", fault.Fault{Code: fault.TooHigh, Limit: "is not a day of that month", Remedy: "check the day"})
		return
	}
	frequency := duty.SemiMonthly
	if s.given("owed") {
		frequency = duty.FrequencyOf(s.reading("owed").Decimal(), decimal.Zero)
	}
	for _, p := range duty.Periods(n[0], frequency, n[3] == 1) {
		if p.To.Before(on) {
			continue
		}
		s.word("due", p.Due.Format(time.DateOnly))
		s.word("period", p.From.Format(time.DateOnly)+" to "+p.To.Format(time.DateOnly))
		s.word("frequency", string(p.Frequency))
		s.word("rule", p.Rule)
		s.answer.Method = "computed from the calendar"
		s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
			w.Add("the period that "+on.Format(time.DateOnly)+" falls into, "+string(p.Frequency), p.From.Format(time.DateOnly)+" to "+p.To.Format(time.DateOnly))
			w.Add(p.Rule, p.Due.Format("Monday, 2006-01-02"))
		})
		return
	}
}
