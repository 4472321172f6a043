package party

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/calc/fill"
)

// hollowAlder is the demo's book.
func hollowAlder() *book.Book {
	b := book.New()
	seq := map[string]uint64{}
	var all []*book.Entry
	for _, e := range demo.Eighteen() {
		seq[e.Device]++
		k := book.KindOf(e.Body)
		moment := func(t time.Time) book.Moment { return book.MomentAt(t.UnixMilli(), t.Format(time.RFC3339)) }
		all = append(all, &book.Entry{ID: fmt.Sprint(e.Device, seq[e.Device]), Device: e.Device, Seq: seq[e.Device], Clock: fmt.Sprintf("%012x-0000", e.Written.UnixMilli()),
			Written: moment(e.Written), Happened: moment(e.Happened), By: e.By, Kind: k.Name, Version: k.Version, Body: e.Body, Raw: book.Encode(e.Body)})
	}
	b.Add(all...)
	return b
}

// Every bottling of the demo closed with its dry goods: most agree, and where
// they do not, a person said why.
func TestTheDemosBottlingsReconcile(t *testing.T) {
	b := hollowAlder()
	agree, asked := 0, 0
	for a, r := range b.State().Bottlings {
		if r.Open() {
			continue
		}
		c := Closing(b, r)
		require.NotNil(t, c)
		s, err := Of(b, r, c)
		require.NoError(t, err, a)
		assert.Empty(t, s.Wanting, a)
		require.Len(t, s.Goods, 5, a)
		found, err := s.Reconcile()
		require.NoError(t, err, a)
		first := found.Causes[0]
		t.Logf("%s %s: %d bottles, %s of the start; %s (%.0f %%); %s", a, r.Name, found.Bottles, found.Share.Text(2), first.Explanation, 100*first.Probability, c.Note)
		assert.Less(t, found.Share.Value, 2.0, "more than a line keeps")
		if first.Kind == fill.Nothing {
			agree++
			continue
		}
		asked++
		assert.NotEmpty(t, c.Note, "%s is asked about: %s", a, first.Explanation)
	}
	assert.Greater(t, agree, 10)
	assert.GreaterOrEqual(t, asked, 3)
}
