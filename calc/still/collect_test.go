package still

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// line is a line of a log; "" for what was not read.
func line(minutes int, receiver, strength, volume, temp string) Line {
	l := Line{After: time.Duration(minutes) * time.Minute, Receiver: receiver}
	if strength != "" {
		l.Strength = percent(strength)
	}
	if volume != "" {
		l.Volume = litres(volume)
	}
	if temp != "" {
		l.VolumeTemp = degC(temp)
	}
	return l
}

func TestCollectByHand(t *testing.T) {
	// Spirit of one strength: 12 L of 70 % vol hold 8.4 L of pure alcohol.
	c := must(Collect([]Line{line(0, "one", "70", "", ""), line(20, "one", "70", "4", "20"), line(60, "one", "70", "12", "20")}))
	require.Len(t, c.Receivers, 1)
	assert.InDelta(t, 8.4, c.Receivers[0].PureAlcohol.Value, 1e-9)
	assert.InDelta(t, 12, c.Receivers[0].Volume.Value, 1e-9)
	assert.InDelta(t, 70, c.Receivers[0].Strength.Value, 1e-9)
	assert.Zero(t, c.Receivers[0].Guessed)
	assert.InDelta(t, 2.8, c.Lines[1].Drawn.PureAlcohol(), 1e-9)
	assert.Zero(t, c.Lines[0].Drawn.Mass())

	// The trapezoid, in mass: 80 falling to 60 % vol over 10 kg.
	heavy, light := strong(60), strong(80)
	mean := float64(heavy.MassFraction()+light.MassFraction()) / 2
	ρ := float64(mixture(mean, 1-mean).DensityAt(spirit.At20C)) / 1000
	volume := quantity.FromDecimal(quantity.Snap(10/ρ), quantity.Litre)
	c = must(Collect([]Line{line(0, "one", "80", "", ""), {After: time.Hour, Receiver: "one", Strength: percent("60"), Volume: volume, VolumeTemp: degC("20")}}))
	assert.InDelta(t, 10*mean/pureDensity, c.Receivers[0].PureAlcohol.Value, 1e-6)
	assert.InDelta(t, 10, c.Receivers[0].Holds.Mass(), 1e-6)
}

// The temperature counts: blind to it, the shared note has 0.9 % in 10 K at 70 % vol.
func TestCollectTemperature(t *testing.T) {
	at := func(temp string) float64 {
		return must(Collect([]Line{line(0, "one", "70", "", ""), line(60, "one", "70", "100", temp)})).Receivers[0].PureAlcohol.Value
	}
	assert.InDelta(t, 0.9, 100*(at("20")-at("30"))/at("20"), 0.06, "%% in 10 K")
}

func TestCollectCuts(t *testing.T) {
	c := must(Collect([]Line{
		line(0, "heads", "82", "", ""), line(10, "heads", "80", "1.0", "20"),
		line(10, "hearts", "80", "", ""), line(70, "hearts", "70", "12", "20"), line(130, "hearts", "60", "22", "20"),
		line(130, "tails", "60", "", ""), line(190, "tails", "20", "8", "20"),
	}))
	require.Len(t, c.Receivers, 3)
	sum := Liquid{}
	for i, want := range []float64{0.81, 15.5, 3.2} {
		assert.InDelta(t, want, c.Receivers[i].PureAlcohol.Value, 0.1, c.Receivers[i].Name)
		sum = sum.Plus(c.Receivers[i].Holds)
		assert.NotEmpty(t, c.Receivers[i].Working())
		assert.Positive(t, c.Receivers[i].PureAlcohol.U)
	}
	assert.InDelta(t, sum.PureAlcohol(), c.Lines[6].Drawn.PureAlcohol(), 1e-12, "the last line has all of it")
	assert.Greater(t, c.Lines[6].U, c.Receivers[1].PureAlcohol.U)

	// Back into the hearts after a look at the tails: the receiver goes on.
	back := must(Collect([]Line{
		line(0, "hearts", "70", "", ""), line(60, "hearts", "68", "10", "20"),
		line(60, "tails", "68", "", ""), line(70, "tails", "68", "1", "20"),
		line(70, "hearts", "68", "", ""), line(100, "hearts", "66", "15", "20"),
	}))
	require.Len(t, back.Receivers, 2)
	assert.InDelta(t, 15, back.Receivers[0].Volume.Value, 1e-9)
	assert.InDelta(t, 10.25, back.Receivers[0].PureAlcohol.Value, 0.05)
}

func TestCollectGaps(t *testing.T) {
	whole := []Line{line(0, "one", "80", "", ""), line(30, "one", "75", "6", "20"), line(60, "one", "70", "12", "20"), line(90, "one", "65", "18", "20")}
	full := must(Collect(whole)).Receivers[0]

	// A volume not read is bridged by the clock, exactly where the flow is even.
	gap := append([]Line{}, whole...)
	gap[1].Volume, gap[2].Volume = quantity.Reading{}, quantity.Reading{}
	bridged := must(Collect(gap))
	assert.InDelta(t, full.PureAlcohol.Value, bridged.Receivers[0].PureAlcohol.Value, 0.01)
	assert.Zero(t, bridged.Receivers[0].Guessed)
	assert.InDelta(t, 6, bridged.Lines[1].Drawn.Volume(), 0.1)

	// A strength not read is bridged too.
	gap = append([]Line{}, whole...)
	gap[2].Strength = quantity.Reading{}
	bridged = must(Collect(gap))
	assert.InDelta(t, 70, bridged.Lines[2].Coming.ABV20(), 0.1)
	assert.InDelta(t, full.PureAlcohol.Value, bridged.Receivers[0].PureAlcohol.Value, 0.02)

	// Past the last volume the flow goes on, and the answer says so.
	gap = append([]Line{}, whole...)
	gap[3].Volume = quantity.Reading{}
	guessed := must(Collect(gap)).Receivers[0]
	assert.InDelta(t, 18, guessed.Volume.Value, 0.1)
	assert.InDelta(t, 5.3, guessed.Guessed, 0.2, "kg of 6 L")
	assert.Greater(t, guessed.PureAlcohol.U, 2*full.PureAlcohol.U, "half of it is in doubt")

	// A receiver that was filled before the first line.
	late := must(Collect(whole[1:])).Receivers[0]
	assert.InDelta(t, 18, late.Volume.Value, 1e-9)
	assert.InDelta(t, full.PureAlcohol.Value, late.PureAlcohol.Value, 0.2)

	// A receiver with no volume at all borrows the flow of the next.
	c := must(Collect([]Line{line(0, "heads", "80", "", ""), line(10, "hearts", "78", "", ""), line(70, "hearts", "70", "12", "20")}))
	assert.InDelta(t, 2, c.Receivers[0].Volume.Value, 0.05, "10 min at 12 L an hour")
	assert.Positive(t, c.Receivers[0].Guessed)
}

func TestCollectRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		lines []Line
		code  fault.Code
		field string
	}{
		"nothing":          {nil, TooLittle, "strength"},
		"no strength":      {[]Line{line(0, "one", "", "3", "")}, TooLittle, "strength"},
		"backwards":        {[]Line{line(10, "one", "70", "", ""), line(5, "one", "70", "2", "")}, fault.Conflict, "line 2 time"},
		"emptied":          {[]Line{line(0, "one", "70", "", ""), line(10, "one", "70", "9", ""), line(20, "one", "70", "2", "")}, fault.Conflict, "line 3 volume"},
		"no flow":          {[]Line{line(0, "one", "70", "", ""), line(10, "one", "70", "", "")}, TooLittle, "volume"},
		"a weight":         {[]Line{{Receiver: "one", Strength: percent("70"), Volume: kg("3")}}, fault.WrongUnit, "line 1 volume"},
		"no strength unit": {[]Line{{Receiver: "one", Strength: degC("70")}}, fault.WrongUnit, "line 1 strength"},
		"hot":              {[]Line{line(0, "one", "70", "3", "60")}, fault.TooHigh, "line 1 volume"},
		"below nothing":    {[]Line{line(0, "one", "70", "-3", "")}, fault.TooLow, "line 1 volume"},
	} {
		_, err := Collect(c.lines)
		f := refused(t, err)
		assert.Equal(t, c.code, f.Code, "%s: %v", name, f)
		assert.Equal(t, c.field, f.Field, name)
	}
	// A volume that fell by less than its doubt is taken.
	c := must(Collect([]Line{line(0, "one", "70", "", ""), line(10, "one", "70", "9±0.1", "20±0.5"), line(20, "one", "70", "8.95±0.1", "20±0.5")}))
	assert.InDelta(t, 8.95, c.Receivers[0].Volume.Value, 1e-9)
}

// A log read off a run that was worked out gives back that run, within the
// doubt it claims, however seldom the distiller looked.
func TestCollectFindsTheRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := must(Distil(Run{Charge: must(ChargeOf(litres("300"), percent("25"))), Way: Way{0.4, TotalReflux()}, Pressure: StandardAtmosphere, Heat: 12, End: End{Spirit: strong(15)}}))
		every := rapid.IntRange(1, 12).Draw(t, "every")
		cutAt := rapid.Float64Range(50, 75).Draw(t, "cut at")
		temp := quantity.FromDecimal(quantity.Snap(rapid.Float64Range(12, 30).Draw(t, "temp")).Round(1), quantity.Celsius)
		receiver, before := "hearts", Liquid{}
		var lines []Line
		for i, p := range c.Points {
			if i%every != 0 && i != len(c.Points)-1 {
				continue
			}
			in := Liquid{p.Drawn.Ethanol - before.Ethanol, p.Drawn.Water - before.Water}
			l := Line{After: time.Duration(p.Minutes * float64(time.Minute)), Receiver: receiver, VolumeTemp: temp,
				Strength: quantity.FromDecimal(quantity.Snap(p.Spirit.ABV20()).Round(2), quantity.ABV20).WithHalfWidth(percent("0.1"))}
			if in.Mass() > 0 {
				l.Volume = quantity.FromDecimal(quantity.Snap(in.VolumeAt(spirit.TemperatureOf(temp))).Round(3), quantity.Litre).WithHalfWidth(litres("0.05"))
			}
			lines = append(lines, l)
			if receiver == "hearts" && p.Spirit.ABV20() < cutAt {
				receiver, before = "tails", p.Drawn
				l.Receiver, l.Volume = receiver, quantity.Reading{}
				lines = append(lines, l)
			}
		}
		got := must(Collect(lines))
		last := got.Lines[len(got.Lines)-1]
		if gap := math.Abs(last.Drawn.PureAlcohol() - c.Last().Drawn.PureAlcohol()); gap > 2*last.U {
			t.Fatalf("collected %v, the run gave %v: %v apart, beyond twice %v", last.Drawn.PureAlcohol(), c.Last().Drawn.PureAlcohol(), gap, last.U)
		}
		if gap := math.Abs(last.Drawn.Mass() - c.Last().Drawn.Mass()); gap > 0.01*c.Last().Drawn.Mass() {
			t.Fatalf("collected %v kg of %v", last.Drawn.Mass(), c.Last().Drawn.Mass())
		}
	})
}

func BenchmarkCollect(b *testing.B) {
	var lines []Line
	for i := range 300 {
		lines = append(lines, Line{After: time.Duration(i) * 2 * time.Minute, Receiver: []string{"heads", "hearts", "tails"}[i/100],
			Strength: quantity.FromDecimal(quantity.Snap(85-float64(i)/5).Round(1), quantity.ABV20),
			Volume:   quantity.FromDecimal(quantity.Snap(float64(i%100)/2).Round(1), quantity.Litre), VolumeTemp: degC("18.5")})
	}
	for b.Loop() {
		must(Collect(lines))
	}
}
