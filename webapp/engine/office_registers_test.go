package engine_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

type seenRegister struct {
	Key, Kind    string
	Table, Ended seenTable
	Choices      []struct{ Value, Label string }
}

// A register lists what is in use with its open facts, and what is no longer
// used apart from it.
func TestRegistersHoldWhatIsRegistered(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	look := func(key string) seenRegister {
		var got struct{ Registers []seenRegister }
		a.into(&got, map[string]any{"what": "registers"})
		for _, r := range got.Registers {
			assert.Len(t, r.Choices, len(r.Table.Rows), r.Key)
			if r.Key == key {
				return r
			}
		}
		require.Fail(t, "no register "+key)
		return seenRegister{}
	}
	for _, c := range []struct {
		key   string
		class book.Class
	}{{"products", book.AProduct}, {"goods", book.AGood}, {"suppliers", book.ASupplier}, {"recipes", book.ARecipe}, {"people", book.APerson}, {"approvals", book.AnApproval}} {
		r := look(c.key)
		assert.Equal(t, len(s.Register(c.class)), len(r.Table.Rows)+len(r.Ended.Rows), c.key)
	}
	for _, r := range look("goods").Table.Rows {
		g := s.Good(book.Address(r.Cells[0].Entry))
		require.NotNil(t, g, r.Cells[0].Text)
		assert.Equal(t, g.Measured.Show(s.OnHand(book.Address(r.Cells[0].Entry))), r.Cells[1].Text, "%s on hand", g.Name)
	}
	product := look("products").Choices[0]
	a.save("approval recorded", map[string]any{"product": product.Value, "of": "formula", "number": "F-77", "status": "approved", "until": "2026-12-20"})
	for _, r := range look("products").Table.Rows {
		if r.Cells[0].Entry == product.Value {
			assert.Contains(t, r.Note, "formula F-77, approved, good until 2026-12-20")
			assert.Contains(t, r.Note, "days more", "what ends soon says how soon")
		}
	}
	a.save("registration ended", map[string]any{"entry": product.Value, "why": "no more quinces"})
	ended := look("products").Ended
	require.Len(t, ended.Rows, 1)
	assert.Equal(t, product.Value, ended.Rows[0].Cells[0].Entry)
}
