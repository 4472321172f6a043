package book

import (
	"fmt"
	"time"

	"gaugebook/calc/quantity"
)

// Half is half the width between what the instrument can tell apart: as
// registered, else half its smallest graduation (common practice, no source).
func (b *InstrumentRegistered) Half() quantity.Reading {
	if b.HalfWidth.IsNone() && !b.Graduation.IsNone() {
		return quantity.FromDecimal(b.Graduation.Decimal().Div(two), b.Graduation.Unit())
	}
	return b.HalfWidth
}

// Due is when an instrument is to be checked again.
func (b *InstrumentRegistered) Due() (Day, bool) {
	last, ok := dayOf(b.Checked)
	if !ok || b.CheckEvery.IsNone() || b.CheckEvery.Unit().Dimension() != quantity.Duration {
		return "", false
	}
	return Day(last.AddDate(0, 0, int(b.CheckEvery.In(quantity.Day))).Format(time.DateOnly)), true
}

// corrected reports whether instruments of this type are read with a correction
// from a certificate. The others are set to read true before use: a
// refractometer on water, a pH meter in buffers (common practice, no source).
func (b *InstrumentRegistered) corrected() bool {
	return b.Type == "hydrometer" || b.Type == "thermometer"
}

// Doubt says in one sentence why a reading of a registered instrument stands in
// doubt on a day, or "". It never stops a reading: a doubtful one is better
// than none, and its entry can be amended when the correction is known.
func (r *Registered) Doubt(on Day) string {
	b, ok := r.Body.(*InstrumentRegistered)
	if !ok {
		return ""
	}
	due, dated := b.Due()
	switch {
	case r.Retired:
		return b.Name + " is no longer used, or was found not fit: read with another."
	case dated && due < on:
		return fmt.Sprintf("%s was last checked on %s and was to be checked again by %s: hold it against a standard.", b.Name, b.Checked, due)
	case b.Checked == "" && b.corrected():
		return b.Name + " was never checked, as far as the register says: hold it against a standard."
	case b.Correction.IsNone() && b.corrected():
		return b.Name + " has no correction in the register, so its reading is taken as it stands: write what its certificate says, 0 if nothing."
	}
	return ""
}
