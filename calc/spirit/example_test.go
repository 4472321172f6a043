package spirit_test

import (
	"fmt"
	"os"

	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

func reading3023() spirit.HydrometerReading {
	return spirit.HydrometerReading{
		Indicated:           quantity.MustParse("192.85", quantity.Proof),
		Temp:                quantity.MustParse("72.10", quantity.Fahrenheit),
		IndicatedCorrection: quantity.MustParse("-0.03", quantity.Proof),
		TempCorrection:      quantity.MustParse("0.05", quantity.Fahrenheit),
	}
}

// The worked example of 27 CFR 30.23 without a printed table at hand.
func ExampleTrueProof() {
	c, err := spirit.TrueProof(reading3023())
	if err != nil {
		panic(err)
	}
	fmt.Println(c.Rounded.StringFixed(1), c.Method)
	// Output: 190.0 computed
}

// The same from the cells of Table 1 that the section quotes, with its steps.
func ExampleTrueProof_printedTable() {
	f, err := os.Open("../../testdata/published/27-cfr-30/table1.csv")
	if err != nil {
		panic(err)
	}
	defer f.Close()
	h := reading3023()
	if h.Table, err = spirit.ParseTable(f); err != nil {
		panic(err)
	}
	c, err := spirit.TrueProof(h)
	if err != nil {
		panic(err)
	}
	fmt.Print(c.Working())
	fmt.Println(c.Rounded.StringFixed(1), c.Method)
	// Output:
	// 1. the hydrometer's reading 192.85 and its correction -0.03 = 192.82 proof
	// 2. the thermometer's reading 72.10 °F and its correction 0.05 °F = 72.15 °F
	// 3. Table 1, 192 at 72 °F = 189.1 proof
	// 4. Table 1, 193 at 72 °F = 190.2 proof
	// 5. the difference 1.1 × 0.82 = 0.902 proof
	// 6. Table 1, 192 at 73 °F = 188.9 proof
	// 7. the difference -0.2 × 0.15 = -0.03 proof
	// 8. together (27 CFR 30.23) = 189.972 proof
	// 9. to the nearest tenth, 5 hundredths and over going up (27 CFR 30.23) = 190.0 proof
	// 190.0 from the printed table
}

// The worked example of 27 CFR 30.51: 88 inches of 48.96 gallons.
func ExampleGaugeVolume() {
	g, err := spirit.GaugeVolume(spirit.VolumeGauge{
		Volume:   quantity.MustParse("4308.48", quantity.Gallon),
		Temp:     quantity.MustParse("72", quantity.Fahrenheit),
		Strength: quantity.MustParse("86.8", quantity.Proof),
	})
	if err != nil {
		panic(err)
	}
	fmt.Println(g.Legal.WineGallons, "wine gallons,", g.Legal.ProofGallons, "proof gallons")
	// Output: 4286.94 wine gallons, 3721.1 proof gallons
}

// The worked example of 27 CFR 30.32(b).
func ExampleObscure() {
	o, err := spirit.Obscure(spirit.Extract{
		Residue:  quantity.MustParse("0.125g", quantity.Gram),
		Sample:   quantity.MustParse("25mL", quantity.Millilitre),
		Apparent: quantity.MustParse("90", quantity.Proof),
	})
	if err != nil {
		panic(err)
	}
	fmt.Println(o.Solids.Text(2), "hide", o.Obscuration.Text(1))
	// Output: 0.50 g/100mL hide 2.0 proof
}
