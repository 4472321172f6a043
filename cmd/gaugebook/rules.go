package main

import (
	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/sync/record"
)

// tradeRules is the check that a phone makes before it saves, made again on
// arrival. A kind that this build does not know is another build's to check.
type tradeRules struct{}

func (tradeRules) Check(line []byte) (faults fault.List) {
	r, err := record.Decode(line)
	if err != nil {
		faults.Add("record", err)
		return faults
	}
	body, err := book.Decode(r.Kind, r.V, r.Body)
	if err != nil {
		faults.Add("body", err)
		return faults
	}
	if body == nil {
		return nil
	}
	return book.Check(body)
}
