package duty

import (
	"strconv"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Wine is one wine in a product.
type Wine struct {
	Gallons decimal.Decimal // wine gallons
	ABV     decimal.Decimal // %
	Rate    decimal.Decimal // USD per wine gallon; zero for that of WineRate
}

// A Formula is what a batch of a product is made of, for the credit of 26 USC
// 5010: alcohol from eligible wine bears the wine's rate, alcohol from eligible
// flavours nothing up to 2.5 % of the alcohol in the product.
type Formula struct {
	Spirits  decimal.Decimal // proof gallons, without the flavours'
	Wines    []Wine
	Flavours decimal.Decimal // proof gallons
}

// An Effective is a product's rate.
type Effective struct {
	ProofGallons decimal.Decimal // of spirits, flavours and wine together
	Excess       decimal.Decimal // flavours' proof gallons above the free share
	Tax          decimal.Decimal // USD on all of it
	Rate         decimal.Decimal // USD per proof gallon, rounded
	Unrounded    decimal.Decimal
	quantity.Explained
}

// Rate is the effective rate (27 CFR 19.246): tax on spirits, wines and the
// flavours beyond the free share, over all proof gallons; quantities to the
// nearest tenth, the rate to so many places of a dollar, 5 and over up, not
// coarser than a cent. spirits is the rate of the tier that the removal falls
// into, so a product has as many effective rates as there are tiers (as the
// regulator's guidance has it, from memory).
func (f Formula) Rate(spirits decimal.Decimal, places int32) (Effective, error) {
	var faults fault.List
	below := func(field string, d decimal.Decimal) {
		if d.IsNegative() {
			faults.Add(field, fault.Fault{Code: fault.TooLow, Value: d.String(), Limit: "is below 0", Remedy: "check the figure"})
		}
	}
	below("spirits", f.Spirits)
	below("flavours", f.Flavours)
	below("rate", spirits)
	if places < 2 || places > 10 {
		faults.Add("places", fault.Fault{Code: fault.NotOneOf, Value: strconv.Itoa(int(places)), Limit: "is not between 2 and 10 decimals", Remedy: "round to the cent or finer, alike for all products (27 CFR 19.246)"})
	}
	hundred := decimal.NewFromInt(100)
	type wine struct{ pg, tax, rate decimal.Decimal }
	wines := make([]wine, len(f.Wines))
	for i, w := range f.Wines {
		field := "wine " + strconv.Itoa(i+1)
		below(field, w.Gallons)
		rate := w.Rate
		if rate.IsZero() {
			l, ok := WineRate(w.ABV)
			if !ok {
				faults.Add(field, fault.Fault{Code: fault.TooHigh, Value: w.ABV.String() + " %", Limit: "is no still wine of the classes on file", Remedy: "give its rate, or enter it as spirits"})
			}
			rate = l.Value
		}
		wines[i] = wine{w.Gallons.Mul(decimal.NewFromInt(2)).Mul(w.ABV).Div(hundred).Round(1), w.Gallons.Round(1).Mul(rate), rate}
	}
	if err := faults.Err(); err != nil {
		return Effective{}, err
	}
	e := Effective{ProofGallons: f.Spirits.Round(1).Add(f.Flavours.Round(1)), Tax: f.Spirits.Round(1).Mul(spirits)}
	for _, w := range wines {
		e.ProofGallons, e.Tax = e.ProofGallons.Add(w.pg), e.Tax.Add(w.tax)
	}
	if !e.ProofGallons.IsPositive() {
		return Effective{}, fault.List{{Code: fault.Missing, Field: "spirits", Limit: "nothing with alcohol is in it", Remedy: "give the batch's spirits, wines and flavours"}}
	}
	free := e.ProofGallons.Mul(LimitOf("flavour_share").Value).Round(1)
	e.Excess = decimal.Max(f.Flavours.Round(1).Sub(free), decimal.Zero)
	e.Tax = e.Tax.Add(e.Excess.Mul(spirits))
	e.Unrounded = e.Tax.DivRound(e.ProofGallons, 12)
	e.Rate = e.Unrounded.Round(places)
	e.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("spirits, "+f.Spirits.Round(1).String()+" proof gal × "+spirits.String()+" USD", f.Spirits.Round(1).Mul(spirits).String()+" USD")
		for i, x := range wines {
			w.Add("wine, "+f.Wines[i].Gallons.Round(1).String()+" gal × "+x.rate.String()+" USD", x.tax.String()+" USD")
			w.Add("its proof gallons, × 2 × "+f.Wines[i].ABV.String()+" %", x.pg.String()+" proof gal")
		}
		w.Add("proof gallons of all", e.ProofGallons.String()+" proof gal")
		w.Add("flavours free of tax, 2.5 % of that", free.String()+" proof gal")
		w.Add("flavours beyond, "+e.Excess.String()+" proof gal × "+spirits.String()+" USD", e.Excess.Mul(spirits).String()+" USD")
		w.Add("tax on all", e.Tax.String()+" USD")
		w.Add("effective rate, over the proof gallons: "+e.Unrounded.StringFixed(6)+" (27 CFR 19.246), rounded", e.Rate.StringFixed(places)+" USD per proof gal")
	})
	return e, nil
}

// Standard is a product's standard effective rate (27 CFR 19.248): the highest
// that its approved formula can give, with the least wine and the least flavour
// in it. It is applied to every removal without a look at the batch.
func Standard(spirits decimal.Decimal, places int32, batches ...Formula) (Effective, error) {
	if len(batches) == 0 {
		return Effective{}, fault.List{{Code: fault.Missing, Field: "batches", Limit: "a standard rate needs the least that the formula allows", Remedy: "give the batch with the least wine and flavour"}}
	}
	var highest Effective
	for i, b := range batches {
		e, err := b.Rate(spirits, places)
		if err != nil {
			return Effective{}, err
		}
		if i == 0 || e.Rate.GreaterThan(highest.Rate) {
			highest = e
		}
	}
	return highest, nil
}
