package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

type registersView struct {
	Registers []register `json:"registers"`
}

// A register is what is registered of one class, with the kind that adds to it.
type register struct {
	Key     string   `json:"key"`
	Kind    string   `json:"kind"`
	Act     string   `json:"act"`  // what the form is called
	Save    string   `json:"save"` // what its button says
	Help    string   `json:"help"`
	Table   *table   `json:"table"`
	Ended   *table   `json:"ended"`
	Choices []choice `json:"choices"` // what may be said to be no longer used
}

// registers are the registers of the office, each in one place: a name opens
// its entry, which is corrected there.
func (e *Engine) registers() registersView {
	s := e.book.State()
	goods := e.goodsFacts()
	last := e.lastOfSuppliers()
	labels := map[book.Address][]string{}
	for _, r := range s.Register(book.ARecipe) {
		if b := r.Body.(*book.RecipeRegistered); b.Product != "" && !r.Retired {
			labels[b.Product] = append(labels[b.Product], r.Name)
		}
	}
	removed := e.lastOfCustomers()
	return registersView{[]register{
		e.register("products", book.AProduct, "product registered", "Register a product", "Save the product", "", func(r *book.Registered) (string, string) {
			b := r.Body.(*book.ProductRegistered)
			facts := []string{string(b.Class)}
			if !b.Strength.IsNone() {
				facts = append(facts, b.Strength.String()+" on the label")
			}
			if b.PerCase > 0 {
				facts = append(facts, fmt.Sprintf("%d in a case", b.PerCase))
			}
			for _, a := range s.Approvals(r.Address) {
				facts = append(facts, e.approvalWords(a.Body.(*book.ApprovalRecorded)))
			}
			if b.Formula != "" {
				facts = append(facts, "formula "+b.Formula)
			}
			if b.Approval != "" {
				facts = append(facts, "label approval "+b.Approval)
			}
			if of := labels[r.Address]; len(of) > 0 {
				facts = append(facts, "made by "+strings.Join(of, ", "))
			}
			bottle := "–"
			if !b.Bottle.IsNone() {
				bottle = b.Bottle.String()
			}
			return bottle, strings.Join(facts, "; ")
		}),
		e.register("recipes", book.ARecipe, "recipe registered", "Register a recipe", "Save the recipe", "A changed recipe is registered anew and says what it was changed from.", func(r *book.Registered) (string, string) {
			b := r.Body.(*book.RecipeRegistered)
			var parts []string
			for _, p := range b.Parts {
				parts = append(parts, p.What)
			}
			from := ""
			if x := s.Registered(book.ARecipe, b.From); x != nil {
				from = "changed from " + x.Name
			}
			product := ""
			if x := s.Registered(book.AProduct, b.Product); x != nil {
				product = "for " + x.Name
			}
			return cmp.Or(b.For, "–"), joinedWords(product, strings.Join(parts, ", "), from)
		}),
		e.register("approvals", book.AnApproval, "approval recorded", "Record an approval", "Save the approval", "Formulas and labels: the last word of the authority on each.", func(r *book.Registered) (string, string) {
			b := r.Body.(*book.ApprovalRecorded)
			product := string(b.Product)
			if x := s.Registered(book.AProduct, b.Product); x != nil {
				product = x.Name
			}
			return b.Status, product + ": " + e.approvalWords(b)
		}),
		e.register("goods", book.AGood, "goods registered", "Register a good", "Save the good", "Glass, closures, labels, cartons, yeast. Deliveries are written in the yard.", func(r *book.Registered) (string, string) {
			x := goods[r.Address]
			b := r.Body.(*book.GoodsRegistered)
			facts := []string{b.Type, fmt.Sprintf("%d lots on hand", x.lots)}
			if b.Reorder > 0 {
				facts = append(facts, "order again at "+strconv.FormatInt(b.Reorder, 10))
				if x.hand < b.Reorder*b.Measured.Unit() {
					facts = append(facts, "that is now")
				}
			}
			if x.came != "" {
				facts = append(facts, "last came "+x.came)
			}
			if p := s.Registered(book.AProduct, b.Product); p != nil {
				facts = append(facts, "only for "+p.Name)
			}
			return b.Measured.Show(x.hand), strings.Join(facts, "; ")
		}),
		e.register("suppliers", book.ASupplier, "supplier registered", "Register a supplier", "Save the supplier", "", func(r *book.Registered) (string, string) {
			return cmp.Or(r.Body.(*book.SupplierRegistered).Place, "–"), strings.Join(last[r.Address], "; ")
		}),
		e.register("customers", book.ACustomer, "customer registered", "Register a customer", "Save the customer", "Their names stay on the office’s own devices; nothing more is asked than the law’s records need.", func(r *book.Registered) (string, string) {
			b := r.Body.(*book.CustomerRegistered)
			permit := ""
			if b.Permit != "" {
				permit = "permit " + b.Permit
			}
			return cmp.Or(b.Place, "–"), joinedWords(b.Type, permit, removed[r.Address])
		}),
		e.register("people", book.APerson, "person registered", "Register a person", "Save the person", "", func(r *book.Registered) (string, string) {
			b := r.Body.(*book.PersonRegistered)
			return cmp.Or(b.Initials, "–"), b.Duty
		}),
		e.register("lines", book.AGrouping, "grouping defined", "Define a line of a return", "Save the line", "What each comes to stands on the tax page.", func(r *book.Registered) (string, string) {
			b := r.Body.(*book.GroupingDefined)
			return string(b.Per), b.Source
		}),
	}}
}

// register lists a class by name, what is no longer used apart.
func (e *Engine) register(key string, class book.Class, kind, act, save, help string, facts func(*book.Registered) (figure, note string)) register {
	out := register{Key: key, Kind: kind, Act: act, Save: save, Help: help, Choices: []choice{},
		Table: &table{Title: capital(key), Empty: "None is registered.", Rows: []row{}, Columns: registerColumns(class)},
		Ended: &table{Title: capital(key) + " no longer used", Rows: []row{}, Columns: registerColumns(class)}}
	list := e.book.State().Register(class)
	slices.SortStableFunc(list, func(a, b *book.Registered) int { return cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)) })
	for _, r := range list {
		figure, note := facts(r)
		name := r.Name
		if name == "" {
			name = string(r.Address)
		}
		x := row{Cells: []cell{{name, r.Address}, text(figure)}, Note: note}
		if r.Retired {
			out.Ended.Rows = append(out.Ended.Rows, x)
			continue
		}
		out.Table.Rows = append(out.Table.Rows, x)
		out.Choices = append(out.Choices, choice{string(r.Address), name})
	}
	return out
}

func registerColumns(class book.Class) []column {
	second := map[book.Class]string{book.AProduct: "Bottle", book.ARecipe: "Makes", book.AnApproval: "Stands", book.AGood: "On hand", book.ASupplier: "Place",
		book.ACustomer: "Place", book.APerson: "Signs", book.AGrouping: "In"}[class]
	return []column{{Label: "Name"}, {Label: second, Figure: class == book.AGood}}
}

// approvalWords is where an approval stands, and how long it is good for.
func (e *Engine) approvalWords(b *book.ApprovalRecorded) string {
	words := b.Of + " " + joinedWords(b.Number, b.Status)
	until, err := time.Parse(time.DateOnly, string(b.Until))
	today, wrong := time.Parse(time.DateOnly, e.now().Day())
	if err != nil || wrong != nil {
		return words
	}
	switch days := int(until.Sub(today).Hours() / 24); {
	case days < 0:
		return words + ", ended on " + string(b.Until)
	case days < 90:
		return fmt.Sprintf("%s, good until %s: %d days more", words, b.Until, days)
	}
	return words + ", good until " + string(b.Until)
}

type goodFacts struct {
	hand int64
	lots int
	came string
}

func (e *Engine) goodsFacts() map[book.Address]goodFacts {
	out := map[book.Address]goodFacts{}
	for _, g := range e.book.State().GoodsLots {
		x := out[g.Good]
		x.hand += g.OnHand()
		if g.OnHand() > 0 {
			x.lots++
		}
		x.came = g.Came.Day()
		out[g.Good] = x
	}
	return out
}

// latestOf is how many deliveries of a supplier stand in the register.
const latestOf = 3

func (e *Engine) lastOfSuppliers() map[book.Address][]string {
	type came struct{ on, what string }
	all := map[book.Address][]came{}
	for _, r := range e.book.State().RawLots {
		all[r.Supplier] = append(all[r.Supplier], came{r.Came.Day(), capital(r.Variety) + " " + quantity.Fixed(r.Net.Kilograms(), 0) + " kg"})
	}
	for _, g := range e.book.State().GoodsLots {
		all[g.Supplier] = append(all[g.Supplier], came{g.Came.Day(), g.Name + " " + g.Measured.Show(g.Received)})
	}
	out := map[book.Address][]string{}
	for a, list := range all {
		slices.SortStableFunc(list, func(x, y came) int { return cmp.Compare(y.on, x.on) })
		for _, x := range list[:min(len(list), latestOf)] {
			out[a] = append(out[a], x.on+": "+x.what)
		}
		if more := len(list) - latestOf; more > 0 {
			out[a] = append(out[a], fmt.Sprintf("and %d before", more))
		}
	}
	return out
}

// lastOfCustomers is when something last went to each.
func (e *Engine) lastOfCustomers() map[book.Address]string {
	out := map[book.Address]string{}
	postings := e.book.State().Postings()
	if len(e.book.State().Register(book.ACustomer)) == 0 {
		return out
	}
	for i := range postings {
		p := &postings[i]
		if p.From != book.Finished {
			continue
		}
		if entry := e.book.Entry(p.Entry); entry != nil {
			if b, ok := entry.Body.(*book.CasesRemoved); ok && b.Customer != "" {
				out[b.Customer] = "last " + p.On.Day() + ", " + report.Steps(p.Amount) + " PG"
			}
		}
	}
	return out
}
