package engine_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

// A doubtful instrument is told where it is read, in one sentence, and stops
// nothing; a sound one says nothing. Today is 2026-11-25.
func TestDoubtsAreToldAtTheReading(t *testing.T) {
	p := newPhone(t, "heron41")
	p.save("book opened", map[string]any{"name": "Hollow Alder", "convention": "us"})
	register := func(name, kind, checked, correction string) string {
		body := map[string]any{"name": name, "type": kind, "half_width": map[string]string{"hydrometer": "0.1proof", "thermometer": "0.25F", "scale": "0.5lb", "pH meter": "0.02pH"}[kind]}
		for key, value := range map[string]string{"checked": checked, "correction": correction} {
			if value != "" {
				body[key] = value
			}
		}
		if checked != "" {
			body["check_every"] = "365d"
		}
		return p.save("instrument registered", body)
	}
	sound := register("H1", "hydrometer", "2026-01-05", "-0.03proof")
	overdue := register("H2", "hydrometer", "2025-11-24", "0.1proof") // by 2026-11-24
	today := register("H3", "hydrometer", "2025-11-25", "0.1proof")   // by today: not over yet
	never := register("T1", "thermometer", "", "0.05F")
	bare := register("T2", "thermometer", "2026-01-05", "")
	doubts := func(kind string, body map[string]any) string {
		return fmt.Sprint(p.call("preview", map[string]any{"kind": kind, "body": body})["doubts"])
	}
	read := func(hydrometer, thermometer string) map[string]any {
		return map[string]any{"indicated": "150proof", "temp": "65F", "hydrometer": hydrometer, "thermometer": thermometer}
	}
	const none = "<nil>"
	for _, kind := range []string{"reading", "draw read", "spirit gauged"} {
		assert.Equal(t, none, doubts(kind, read(sound, "")), kind)
		assert.Equal(t, none, doubts(kind, read(today, "")), "due today: %s", kind)
		assert.Equal(t, "[H2 was last checked on 2025-11-24 and was to be checked again by 2026-11-24: hold it against a standard.]", doubts(kind, read(overdue, "")), kind)
		assert.Equal(t, "[T1 was never checked, as far as the register says: hold it against a standard.]", doubts(kind, read(sound, never)), kind)
		assert.Contains(t, doubts(kind, read(sound, bare)), "T2 has no correction in the register", kind)
	}
	out := p.call("preview", map[string]any{"kind": "reading", "body": read(overdue, never)})
	assert.Empty(t, out["wrong"], "it blocks nothing")
	assert.Len(t, out["doubts"], 2)
	require.NotNil(t, out["result"])

	// No form asks for the scale or the pH meter: the house's only one is meant.
	weighed := map[string]any{"material": "fruit", "variety": "Quince", "net": "400lb", "ph": "3.2pH"}
	assert.Equal(t, none, doubts("delivery received", weighed), "none is registered")
	register("S1", "scale", "2025-01-01", "")
	register("P1", "pH meter", "2026-11-01", "")
	assert.Equal(t, "[S1 was last checked on 2025-01-01 and was to be checked again by 2026-01-01: hold it against a standard.]", doubts("delivery received", weighed), "a pH meter is set in buffers and needs no correction")
	register("S2", "scale", "2026-11-01", "0lb")
	assert.Equal(t, none, doubts("delivery received", weighed), "another scale is sound: which one was read is not known")
	sample := map[string]any{"material": "fruit", "variety": "Quince", "samples": []map[string]any{{"sugar": "14Bx", "temp": "64F", "instrument": overdue}}}
	assert.Contains(t, doubts("delivery received", sample), "H2 was last checked", "inside a group")
	assert.Equal(t, none, doubts("instrument checked", map[string]any{"instrument": overdue, "found": "fit"}), "the check itself is no reading")

	// A form offers what reads its field, and nothing found not fit.
	p.save("instrument checked", map[string]any{"instrument": sound, "found": "not fit"})
	assert.Contains(t, doubts("reading", read(sound, "")), "H1 is no longer used, or was found not fit", "a draft may still name it")
	for _, f := range p.call("form", map[string]any{"kind": "draw read"})["fields"].([]any) {
		if d := f.(map[string]any); d["key"] == "hydrometer" {
			assert.Equal(t, []any{map[string]any{"value": overdue, "label": "H2 (in doubt)"}, map[string]any{"value": today, "label": "H3"}}, d["choices"])
		}
	}

	v := p.call("view", map[string]any{"what": "instruments"})
	assert.Len(t, v["doubts"], 4, "H2, T1, T2, S1: %v", v["doubts"])
	rows := v["table"].(map[string]any)["rows"].([]any)
	require.Len(t, rows, 8)
	first, last := rows[0].(map[string]any), rows[7].(map[string]any)
	assert.Equal(t, "[map[entry:"+overdue+" text:H2] map[text:in doubt] map[text:2026-11-24] map[text:2025-11-24] map[text:0.1 proof] map[text:±0.1 proof] map[text:not known] map[text:hydrometer] map[text:–] map[text:–]]", fmt.Sprint(first["cells"]))
	assert.Equal(t, true, last["struck"], "what is not fit stands last")

	p.save("instrument checked", map[string]any{"instrument": overdue, "found": "fit with a new correction", "correction": "0.2proof"})
	assert.Equal(t, none, doubts("reading", read(overdue, "")), "checked today")
}

// A check's correction acts on the reading at once, and half the smallest
// graduation is its doubt where nothing finer is known.
func TestTheChosenInstrumentCorrects(t *testing.T) {
	p := newPhone(t, "heron41")
	p.save("book opened", map[string]any{"name": "Hollow Alder", "convention": "us"})
	h := p.save("instrument registered", map[string]any{"name": "H1", "type": "hydrometer", "basis": "60F", "correction": "-0.03proof", "graduation": "0.5proof", "checked": "2026-11-01"})
	th := p.save("instrument registered", map[string]any{"name": "T1", "type": "thermometer", "correction": "0.05F", "graduation": "1F", "checked": "2026-11-01"})
	// The worked example of 27 CFR 30.23: 192.85 proof read at 72.10 °F, with
	// corrections of −0.03 and +0.05, is 190.0 proof.
	typed := map[string]any{"indicated": "192.85proof", "temp": "72.10F", "hydrometer": h, "thermometer": th}
	by := p.preview("reading", typed)
	assert.Equal(t, "190.0", by["figure"])
	assert.NotEmpty(t, beside(t, by)["within"], "half of 0.5 proof and of 1 °F")
	hand := p.preview("reading", map[string]any{"indicated": "192.85proof", "temp": "72.10F", "indicated_correction": "-0.03proof", "temp_correction": "0.05F"})
	assert.Equal(t, hand["figure"], by["figure"])
	p.save("instrument checked", map[string]any{"instrument": h, "found": "fit with a new correction", "correction": "1proof"})
	assert.Greater(t, p.preview("reading", typed)["figure"], "190.0")
	one := &book.InstrumentRegistered{}
	assert.True(t, one.Half().IsNone(), "nothing is claimed where nothing is known")
}
