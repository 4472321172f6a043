package record

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestClock(t *testing.T) {
	now := time.UnixMilli(0x0193_4f6e_1a2b)
	c := Clock(0).Tick(now)
	assert.Equal(t, "01934f6e1a2b-0000", c.String())
	assert.Equal(t, "01934f6e1a2b-0001", c.Tick(now).String(), "the same millisecond counts on")
	assert.Equal(t, "01934f6e1a2b-0001", c.Tick(now.AddDate(-10, 0, 0)).String(), "so does a clock that went back")
	assert.Equal(t, "01934f6e1a2c-0000", Clock(0x01934f6e1a2bffff).Tick(now).String(), "a full counter carries over")
	assert.Equal(t, Clock(1), Clock(0).Tick(time.UnixMilli(-5)), "before 1970 it only counts")
	assert.Equal(t, ^Clock(0), (^Clock(0)).Tick(now), "the last clock there is stays")
	assert.Equal(t, now.UTC(), c.Time())

	seen, believed := c.Witness(at(now.Add(FarAhead)), now)
	assert.True(t, believed)
	assert.Equal(t, at(now.Add(FarAhead)), seen, "a day ahead is believed")
	seen, believed = c.Witness(at(now.Add(FarAhead))+1, now)
	assert.False(t, believed)
	assert.Equal(t, c, seen, "more than a day is not")
}

// A clock never stands or runs back, and stands behind all it has believed.
func TestClockRunsForward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c Clock
		t.Repeat(map[string]func(*rapid.T){
			"tick": func(t *rapid.T) {
				next := c.Tick(time.UnixMilli(rapid.Int64Range(-1<<40, 1<<48-1).Draw(t, "now")))
				require.Greater(t, next, c)
				c = next
			},
			"witness": func(t *rapid.T) {
				now := time.UnixMilli(rapid.Int64Range(0, 1<<42).Draw(t, "now"))
				remote := Clock(rapid.Uint64().Draw(t, "remote"))
				next, believed := c.Witness(remote, now)
				require.GreaterOrEqual(t, next, c)
				require.Equal(t, !remote.Time().After(now.Add(FarAhead)) && remote <= at(now.Add(FarAhead)), believed)
				if believed {
					require.Greater(t, next.Tick(now), remote)
				}
				c = next
			},
		})
	})
}

// Clocks, digests and marks come back from their text, which orders as they
// do where it has one length.
func TestTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := Clock(rapid.Uint64().Draw(t, "a")), Clock(rapid.Uint64().Draw(t, "b"))
		require.Equal(t, a < b, a.String() < b.String())
		var back Clock
		require.NoError(t, back.UnmarshalText([]byte(a.String())))
		require.Equal(t, a, back)

		m := Mark{}
		if rapid.Bool().Draw(t, "begun") {
			m = Mark{Seq: rapid.Int64Range(1, MaxSeq).Draw(t, "seq"), Chain: DigestOf([]byte(rapid.String().Draw(t, "of")))}
		}
		var mark Mark
		require.NoError(t, mark.UnmarshalText([]byte(m.String())))
		require.Equal(t, m, mark)
	})
	for _, bad := range []string{"1", "-1", "0-", "01-" + DigestOf(nil).String(), "1-" + DigestOf(nil).String()[1:], "x", "0-" + DigestOf(nil).String()} {
		var m Mark
		assert.Error(t, m.UnmarshalText([]byte(bad)), bad)
	}
	var c Clock
	assert.ErrorContains(t, c.UnmarshalText([]byte("soon")), "12 hex digits")
	var d Digest
	assert.ErrorContains(t, d.UnmarshalText([]byte("aa")), "64 lower-case hex digits")
}

func FuzzMark(f *testing.F) {
	f.Add("0")
	f.Add(Mark{}.Next([]byte("a")).String())
	f.Add("12-")
	f.Fuzz(func(t *testing.T, text string) {
		var m Mark
		if m.UnmarshalText([]byte(text)) == nil && text != "" {
			require.Equal(t, text, m.String())
		}
	})
}
