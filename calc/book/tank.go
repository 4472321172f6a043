package book

import (
	"fmt"
	"strings"

	"gaugebook/calc/cask"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var tankKinds = []*Kind{
	describe[TankCalibrated]("tank calibrated", SpiritStore, "",
		"A tank's own table: what stands in it at each dip (27 CFR 30.51).", "The vessel.", "From now on its dips are read by this table."),
}

// TankCalibrated gives a vessel its table. A later one takes its place; gauges
// before it keep theirs.
type TankCalibrated struct {
	Vessel Ref       `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Rows   []TankRow `key:"rows,need" label:"Rows" help:"Two at least; between two rows a straight line is read."`
	Source string    `key:"source" label:"Where the table is from" help:"Who measured it, how and when."`
	Note   string    `key:"note" label:"Note"`
}

// A TankRow is what stands in a tank at a dip.
type TankRow struct {
	Dip    quantity.Reading `key:"dip,need" label:"Dip" unit:"in|cm" min:"0cm" max:"2000cm"`
	Volume quantity.Reading `key:"volume,need" label:"Volume" unit:"gal|L" min:"0L" max:"200000L"`
}

// table is the rows as they are read.
func (b *TankCalibrated) table() (cask.Table, error) {
	rows := make([]cask.Strapping, len(b.Rows))
	for i, r := range b.Rows {
		rows[i] = cask.Strapping{Dip: r.Dip, Volume: r.Volume}
	}
	return cask.NewTable(rows)
}

func (b *TankCalibrated) sound(f *faults) {
	_, err := b.table()
	var list fault.List
	list.Add("rows", err)
	for _, x := range list {
		if row, ok := strings.CutPrefix(x.Field, "row "); ok {
			x.Field = "rows[" + row + "].volume"
		} else {
			x.Field = "rows"
		}
		f.list = append(f.list, x)
	}
}

func (b *TankCalibrated) timely(s *State, f *faults) {
	v := s.Vessel(b.Vessel)
	if v == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
		return
	}
	for i, r := range b.Rows {
		if r.Volume.Base() > v.Capacity.Base()*overFull {
			f.add(fault.TooHigh, fmt.Sprintf("rows[%d].volume", i+1), r.Volume.String(), "is more than "+v.Name+" takes, "+v.Capacity.String(), "check the row, or the capacity in the register")
			return
		}
	}
}

func (b *TankCalibrated) apply(t *turn) {
	v := t.state.vessels.edit(b.Vessel)
	if v == nil {
		t.dangling("vessel", b.Vessel)
		return
	}
	table, err := b.table()
	if err != nil {
		t.ask(Dangling, "The table of "+v.Name+" cannot be read: "+err.Error(), nil, v.Address)
		return
	}
	v.Table, v.Calibrated = &table, t.entry.address
}

// Measured is the gauge with its volume: read off the vessel's own table where a
// dip was read. The working of the table is in dipped.
func (b *SpiritGauged) Measured(v *Vessel) (g Gauge, dipped *cask.Dipped, err error) {
	g = b.Gauge
	switch {
	case b.Dip.IsNone():
		return g, nil, nil
	case v == nil || v.Table == nil:
		name := "the vessel"
		if v != nil {
			name = v.Name
		}
		return g, nil, fault.Fault{Code: fault.Missing, Field: "dip", Value: b.Dip.String(), Limit: "cannot be read: " + name + " has no table", Remedy: "put its table in on the page of the tanks, or give the volume"}
	}
	d, err := v.Table.Volume(b.Dip)
	if err != nil {
		var list fault.List
		list.Add("dip", err)
		return g, nil, list
	}
	g.Volume = d.Volume.Reading(3)
	return g, &d, nil
}

// soundDip holds a gauge by dip to one way of measuring, with its temperature.
func (b *SpiritGauged) soundDip(f *faults) {
	if !b.Volume.IsNone() || b.Weighed() {
		f.add(fault.Conflict, "dip", b.Dip.String(), "stands beside a volume or a weight", "give the one that was measured")
	}
	if b.VolumeTemp.IsNone() && b.Temp.IsNone() {
		f.add(fault.Missing, "volume_temp", "", "a dip needs the temperature of the spirit", "read the thermometer")
	}
	b.soundStrength(f)
}

// lose takes what was lost on the way out of what was moved, and books it.
func (t *turn) lose(out *Content, lost quantity.Reading, why Cause) {
	whole := Millilitres(quantity.Snap(out.Litres20() * 1e3).Round(0).IntPart())
	gone := min(volumeOf(lost), whole)
	if gone <= 0 || !out.Material.Accounted() || out.Mass <= 0 || out.Alcohol < 0 {
		return
	}
	if why == "" {
		why = Unexplained
	}
	loss := out.draw(out.fraction(Mass(portion(int64(out.Mass), int64(gone), int64(whole)))), t.now())
	t.post(loss.Account, Lost, why, loss.Parts)
}
