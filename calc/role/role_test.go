package role

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"gaugebook/calc/book"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const run = book.Address("heron41-12")

func grants() []Grant {
	return []Grant{{Role: Owner}, {Role: Distiller}, {Role: CellarHand}, {Role: Counter, Run: run, Named: []book.Address{"heron41-3"}}, {Role: Reader}}
}

// Role by kind, every kind there is: what each role writes and sees, room by
// room. A kind added later stands in its room's line, or this fails.
func TestEveryKindOfEveryRole(t *testing.T) {
	writes := map[Role]map[book.Room]string{
		Owner: {}, Reader: {},
		Distiller:  {book.Office: "cases counted, clock doubted, entry amended, entry voided, goods counted, instrument checked, instrument registered, inventory taken, question settled, vessel registered"},
		CellarHand: {book.StillRoom: "", book.Office: "clock doubted, entry amended, entry voided, instrument checked"},
		Counter:    {book.BottlingFloor: "bottles counted, bottles spoiled", book.Office: "clock doubted, entry voided"},
	}
	blind := map[Role][]string{
		Distiller:  {"cost noted", "customer registered", "group share agreed", "grouping defined", "price noted", "recall tried", "report filed", "return filed"},
		CellarHand: {"cases removed", "cases returned", "cost noted", "customer registered", "group share agreed", "grouping defined", "price noted", "recall tried", "report filed", "return filed"},
	}
	body := fmt.Appendf(nil, `{"entry":"otter22-8","bottling":%q,"loose":3}`, run)
	for _, g := range grants() {
		for _, room := range book.Rooms() {
			var inRoom, written []string
			for _, k := range book.Kinds() {
				if k.Room != room {
					continue
				}
				inRoom = append(inRoom, k.Name)
				if g.MayWrite("otter22", k.Name, body) {
					written = append(written, k.Name)
				}
				sees := g.MaySee("otter22-9", k.Name, body)
				want := g.Role != Counter && !slices.Contains(blind[g.Role], k.Name) || g.Role == Counter && slices.Contains(slices.Concat(counts, ofItself, []string{voided}), k.Name)
				assert.Equal(t, want, sees, "%s sees %s", g.Role, k.Name)
			}
			slices.Sort(written)
			slices.Sort(inRoom)
			want, exception := writes[g.Role][room]
			if !exception && (g.Role == Owner || g.Role == Distiller || g.Role == CellarHand) {
				want = strings.Join(inRoom, ", ")
			}
			assert.Equal(t, want, strings.Join(written, ", "), "%s writes in the %s", g.Role, room)
		}
	}
	for _, g := range grants() {
		assert.Equal(t, g.Role == Owner, g.MayWrite("otter22", "planets aligned", nil), "a kind of a later build, %s", g.Role)
		assert.Equal(t, g.Role == Owner || g.Role == Reader, g.MaySee("otter22-9", "planets aligned", nil), "%s", g.Role)
	}
}

// Of the kinds by which costs, customers and recipes come into the book, none
// ever reaches a counter; nor does another run.
func TestACounterSeesOneRunOnly(t *testing.T) {
	g := Grant{Role: Counter, Run: run, Named: []book.Address{"heron41-3"}}
	see := func(address book.Address, kind, body string) bool { return g.MaySee(address, kind, []byte(body)) }
	assert.True(t, see(run, "bottling opened", `{"tank":"heron41-2","proof":"80proof"}`))
	assert.False(t, see("heron41-13", "bottling opened", `{"tank":"heron41-2"}`), "another run")
	assert.True(t, see("otter22-1", "bottles counted", `{"bottling":"heron41-12","loose":3}`))
	assert.False(t, see("otter22-1", "bottles counted", `{"bottling":"heron41-13","loose":3}`))
	assert.False(t, g.MayWrite("otter22", "bottles counted", []byte(`{"bottling":"heron41-13","loose":3}`)))
	assert.False(t, g.MayWrite("otter22", "bottles counted", []byte(`no JSON`)))
	assert.True(t, see("heron41-3", "product registered", `{"name":"Rye"}`), "what names the run")
	assert.False(t, see("heron41-4", "product registered", `{"name":"Gin"}`))
	assert.False(t, see("heron41-3", "recipe registered", `{"name":"Rye"}`), "an address in the grant opens registers only")
	assert.True(t, see("otter22-2", "entry amended", `{"entry":"otter22-1","why":"typed wrong","v":1,"body":{"bottling":"heron41-12","loose":4}}`))
	assert.False(t, see("otter22-2", "entry amended", `{"entry":"otter22-1","why":"x","v":1,"body":{"bottling":"heron41-13","loose":4}}`))
	assert.False(t, see("otter22-2", "entry amended", `{"entry":"heron41-5","why":"x","v":1,"body":{"bottling":"heron41-12","amount":"400USD"}}`))
	for _, kind := range []string{"cost noted", "customer registered", "recipe registered", "goods received", "cases removed", "draw read", "bottling closed"} {
		assert.False(t, see(run, kind, `{"bottling":"heron41-12"}`), kind)
	}
}

// A counter takes back what its own phone wrote of its run, and nothing else.
func TestACounterTakesBackItsOwn(t *testing.T) {
	g := Grant{Role: Counter, Run: run}
	for body, want := range map[string]bool{
		`{"entry":"otter22-7","why":"x","bottling":"heron41-12"}`:   true,
		`{"entry":"otter22-7","why":"x"}`:                           false, // of no run
		`{"entry":"otter22-7","why":"x","bottling":"heron41-13"}`:   false, // of another
		`{"entry":"otter221-7","why":"x","bottling":"heron41-12"}`:  false, // of another phone
		`{"entry":"heron41-12","why":"x","bottling":"heron41-12"}`:  false, // the run itself
		`{"why":"x","bottling":"heron41-12"}`:                       false,
		`{"entry":"","why":"x","bottling":"heron41-12"}`:            false,
		`{"entry":"otter22","why":"of it","bottling":"heron41-12"}`: false,
	} {
		assert.Equal(t, want, g.MayWrite("otter22", "entry voided", []byte(body)), body)
	}
	assert.False(t, g.MayWrite("", "entry voided", []byte(`{"entry":"-7","bottling":"heron41-12"}`)), "a phone without a name")
	assert.False(t, g.MaySee("otter22-9", "entry voided", []byte(`{"entry":"heron41-5","why":"The quince cost more"}`)))
	assert.True(t, g.MaySee("otter22-9", "entry voided", []byte(`{"entry":"heron41-5","why":"x","bottling":"heron41-12"}`)))
}

func TestACorrectionOfACostIsACost(t *testing.T) {
	g := Grant{Role: Distiller}
	k, ok := book.KindNamed("cost noted")
	require.True(t, ok)
	fields := []string{}
	for _, f := range k.Fields {
		fields = append(fields, fmt.Sprintf("%q:\"1\"", f.Key))
	}
	whole := "{" + strings.Join(fields, ",") + "}"
	assert.False(t, g.MaySee("heron41-9", "entry amended", []byte(`{"entry":"heron41-8","body":`+whole+`}`)))
	assert.False(t, g.MaySee("heron41-9", "entry amended", []byte(`{"entry":"heron41-8","body":{"lot":"heron41-2","price":"1350USD"}}`)))
	assert.True(t, g.MaySee("heron41-9", "entry amended", []byte(`{"entry":"heron41-8","body":{"bottling":"heron41-12","loose":4}}`)))
}

func TestGrantsReadAsTheyAreWritten(t *testing.T) {
	for _, g := range grants() {
		again, err := Parse(g.Text())
		require.NoError(t, err, g.Text())
		assert.Equal(t, g, again)
		assert.NotEmpty(t, g.Role.Says())
	}
	for text, words := range map[string]string{
		"boss":    "role “boss”: is none of owner, distiller, cellar hand, counter, reader; choose one of these.",
		"":        "role: is none of owner, distiller, cellar hand, counter, reader; choose one of these.",
		"counter": "run: a counter counts one bottling run, which must be named; open the run first, then choose it.",
	} {
		_, err := Parse(text)
		require.Error(t, err, text)
		assert.Equal(t, words, err.Error())
	}
}
