package spirit

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Table is an owner's printed Table 1 of the gauging manual, or the part of
// it that was typed in: true proof by whole hydrometer reading and whole °F.
// The nil Table covers nothing.
type Table struct {
	cells map[cell]decimal.Decimal
}

type cell struct{ reading, fahrenheit int }

// A Suspicion is a cell of a printed table that was probably mistyped.
type Suspicion struct {
	Reading, Fahrenheit int
	Printed             decimal.Decimal
	Computed            float64
	Why                 string
}

// ParseTable reads a table from CSV with the columns reading, °F and proof, in
// that order, and an optional heading. Every faulty line is named at once, and
// a table with faults is not used in part.
func ParseTable(r io.Reader) (*Table, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord = -1
	in.Comment = '#'
	in.TrimLeadingSpace = true
	t := &Table{cells: map[cell]decimal.Decimal{}}
	var faults fault.List
	for first := true; ; first = false {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			faults.Add("table", fault.Fault{Code: fault.NotANumber, Limit: "is not CSV: " + err.Error(), Remedy: "write one cell a line: reading, °F, proof"})
			break
		}
		line, _ := in.FieldPos(0)
		if first {
			row[0] = strings.TrimPrefix(row[0], "\ufeff") // spreadsheets mark UTF-8 so
			if isHeading(row) {
				continue
			}
		}
		faults.Add("table line "+strconv.Itoa(line), t.add(row))
	}
	if len(faults) == 0 && len(t.cells) == 0 {
		faults.Add("table", fault.Fault{Code: fault.Missing, Limit: "holds no cells", Remedy: "write one cell a line: reading, °F, proof"})
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return t, nil
}

// isHeading reports whether no column holds a number: a mistyped first cell is
// a fault, not a heading.
func isHeading(row []string) bool {
	return !slices.ContainsFunc(row, func(s string) bool {
		_, err := decimal.NewFromString(strings.TrimSpace(s))
		return err == nil
	})
}

func (t *Table) add(row []string) error {
	found := strings.Join(row, ",")
	if len(row) != 3 {
		return fault.Fault{Code: fault.NotANumber, Value: found, Limit: "has not three columns", Remedy: "write reading, °F, proof"}
	}
	whole := func(s string, top int) (int, bool) {
		n, err := strconv.Atoi(strings.TrimSpace(s))
		return n, err == nil && n >= 0 && n <= top
	}
	n, ok := whole(row[0], 206)
	if !ok {
		return fault.Fault{Code: fault.NotANumber, Value: found, Limit: "the reading “" + row[0] + "” is not a whole proof from 0 to 206", Remedy: "copy the heading of the printed row"}
	}
	f, ok := whole(row[1], 100)
	if !ok {
		return fault.Fault{Code: fault.NotANumber, Value: found, Limit: "the temperature “" + row[1] + "” is not a whole °F from 0 to 100", Remedy: "copy the heading of the printed column"}
	}
	proof, err := quantity.Parse(row[2], quantity.Proof)
	if err != nil || proof.Unit() != quantity.Proof || proof.Decimal().IsNegative() || proof.Decimal().GreaterThan(decimal.NewFromInt(200)) {
		return fault.Fault{Code: fault.NotANumber, Value: found, Limit: "the true proof “" + row[2] + "” is not a proof from 0 to 200", Remedy: "copy the printed cell"}
	}
	at := cell{n, f}
	if old, twice := t.cells[at]; twice && !old.Equal(proof.Decimal()) {
		return fault.Fault{Code: fault.Conflict, Value: found, Limit: "the same cell was " + old.String() + " on an earlier line", Remedy: "keep the line that agrees with the print"}
	}
	t.cells[at] = proof.Decimal()
	return nil
}

// Len is the number of cells.
func (t *Table) Len() int {
	if t == nil {
		return 0
	}
	return len(t.cells)
}

// corner finds the cell below a reading and a temperature, and what is left.
func corner(reading, fahrenheit decimal.Decimal) (at cell, over, warmer decimal.Decimal) {
	n, f := reading.Floor(), fahrenheit.Floor()
	return cell{int(n.IntPart()), int(f.IntPart())}, reading.Sub(n), fahrenheit.Sub(f)
}

// covers reports whether the cells that 30.23 needs are all there.
func (t *Table) covers(reading, fahrenheit decimal.Decimal) bool {
	if t == nil {
		return false
	}
	at, over, warmer := corner(reading, fahrenheit)
	_, ok := t.cells[at]
	if ok && !over.IsZero() {
		_, ok = t.cells[cell{at.reading + 1, at.fahrenheit}]
	}
	if ok && !warmer.IsZero() {
		_, ok = t.cells[cell{at.reading, at.fahrenheit + 1}]
	}
	return ok
}

// interpolate is the double interpolation of 27 CFR 30.23:
// T(n,t) + [T(n+1,t) − T(n,t)]·over + [T(n,t+1) − T(n,t)]·warmer.
func (t *Table) interpolate(reading, fahrenheit decimal.Decimal) decimal.Decimal {
	at, over, warmer := corner(reading, fahrenheit)
	base := t.cells[at]
	out := base
	if !over.IsZero() {
		out = out.Add(t.cells[cell{at.reading + 1, at.fahrenheit}].Sub(base).Mul(over))
	}
	if !warmer.IsZero() {
		out = out.Add(t.cells[cell{at.reading, at.fahrenheit + 1}].Sub(base).Mul(warmer))
	}
	return out
}

func (t *Table) explain(w *quantity.Working, reading, fahrenheit decimal.Decimal) {
	at, over, warmer := corner(reading, fahrenheit)
	name := func(c cell) string {
		return "Table 1, " + strconv.Itoa(c.reading) + " at " + strconv.Itoa(c.fahrenheit) + " °F"
	}
	base := t.cells[at]
	w.Add(name(at), base.String()+" proof")
	share := func(next cell, part decimal.Decimal) {
		if part.IsZero() {
			return
		}
		v := t.cells[next]
		w.Add(name(next), v.String()+" proof")
		w.Add("the difference "+v.Sub(base).String()+" × "+part.String(), v.Sub(base).Mul(part).String()+" proof")
	}
	share(cell{at.reading + 1, at.fahrenheit}, over)
	share(cell{at.reading, at.fahrenheit + 1}, warmer)
	w.Add("together (27 CFR 30.23)", t.interpolate(reading, fahrenheit).String()+" proof")
}

// Suspicious lists the cells that the density formula or their neighbours speak
// against, by reading and temperature: more than 0.15 proof from the computed
// value (0.7 below 45 °F, where the printed table is known to part from the
// formula), or more than 0.15 from the computed value once the usual departure
// of the neighbouring cells is allowed for.
func (t *Table) Suspicious() []Suspicion {
	if t == nil {
		return nil
	}
	departs := func(c cell) (by, computed float64, ok bool) {
		printed, ok := t.cells[c]
		computed = 200 * scale60F.correct(float64(c.reading)/200, FromFahrenheit(float64(c.fahrenheit)), &scale60F)
		return printed.InexactFloat64() - computed, computed, ok
	}
	var out []Suspicion
	for c, printed := range t.cells {
		by, computed, _ := departs(c)
		limit := 0.15
		if c.fahrenheit < 45 {
			limit = 0.7
		}
		s := Suspicion{Reading: c.reading, Fahrenheit: c.fahrenheit, Printed: printed, Computed: computed}
		if !(by <= limit && by >= -limit) {
			s.Why = "is " + quantity.Fixed(by, 2) + " from the computed " + quantity.Fixed(computed, 1)
			out = append(out, s)
			continue
		}
		var near []float64
		for _, n := range []cell{{c.reading - 1, c.fahrenheit}, {c.reading + 1, c.fahrenheit}, {c.reading, c.fahrenheit - 1}, {c.reading, c.fahrenheit + 1}} {
			if d, _, ok := departs(n); ok {
				near = append(near, d)
			}
		}
		if len(near) < 3 {
			continue
		}
		slices.Sort(near)
		if off := by - near[len(near)/2]; off > 0.15 || off < -0.15 {
			s.Why = "is " + quantity.Fixed(off, 2) + " out of step with its neighbours"
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b Suspicion) int {
		if a.Reading != b.Reading {
			return a.Reading - b.Reading
		}
		return a.Fahrenheit - b.Fahrenheit
	})
	return out
}
