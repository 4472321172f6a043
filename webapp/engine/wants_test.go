package engine

import (
	"testing"

	"gaugebook/calc/book"

	"github.com/stretchr/testify/require"
)

// What is due opens where it is settled: a room, with its page and what is due
// there, or a page of the office.
func TestWhatIsDueOpensWhereItIsSettled(t *testing.T) {
	at := func(kind book.QuestionKind, wooden bool) where {
		to, act := settledAt(book.Due{Kind: kind, About: "heron41-2", On: "2026-11-25"}, wooden)
		require.NotEmpty(t, act)
		return to
	}
	require.Equal(t, where{Room: "store", At: "tanks", About: "tank", Lot: "heron41-2"}, at(book.RestOver, false))
	require.Equal(t, where{Room: "store", At: "barrels", About: "barrel", Lot: "heron41-2"}, at(book.RestOver, true))
	require.Equal(t, where{Room: "store", At: "reduce"}, at(book.StageDue, false))
	require.Equal(t, where{Room: "store", At: "sweeten"}, at(book.InfusionDue, false))
	require.Equal(t, where{Page: "month", Month: "2026-10"}, at(book.ReportDue, false))
	for _, kind := range []book.QuestionKind{book.NotChecked, book.InstrumentDue, book.GoodsLow, book.RunOpen, book.BottlingOpen, book.MonthOpen, book.InventoryDue} {
		to := at(kind, false)
		require.NotEmpty(t, to.Room+to.Page, kind)
	}
}
