package engine

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/role"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// Outside is what an engine needs of the world.
type Outside struct {
	Now    func() time.Time
	Random io.Reader
}

// An Engine holds a phone's book and its end of the exchange. It serves one
// call at a time.
type Engine struct {
	outside  Outside
	book     *book.Book
	unread   int // lines that are no records
	exchange *exchange.Client
	coming   []record.Record // the page that the log is storing
	arrived  []record.Record // what the log holds of the office's pages and the book does not yet
	grant    role.Grant      // what the office says this phone is for

	forecasts map[uint64]foretold // by what they were made of
	outlooks  map[uint64]ahead
	charges   map[book.Address]charged // while one view is made

	calls map[string]answering // what Call answers
	views map[string]viewing   // what the call 'view' shows
	more  *more                // nil in the pocket engine
}

// NewPocket is the pocket engine with an empty book.
func NewPocket(outside Outside) *Engine {
	return &Engine{outside: outside, book: book.New(), calls: calls(), views: views()}
}

// answering answers one call.
type answering = func(*Engine, []byte) (any, error)

// calls are those of the pocket engine, by name.
func calls() map[string]answering {
	return map[string]answering{
		"hello":    with((*Engine).hello),
		"open":     (*Engine).open,
		"add":      (*Engine).add,
		"form":     with((*Engine).form),
		"preview":  with((*Engine).preview),
		"seal":     with((*Engine).seal),
		"clock":    with((*Engine).clock),
		"view":     with((*Engine).view),
		"role":     with((*Engine).roleIs),
		"exchange": (*Engine).exchangeEvent,
	}
}

// with reads a call's JSON into what it takes.
func with[In any](call func(*Engine, In) (any, error)) func(*Engine, []byte) (any, error) {
	return func(e *Engine, raw []byte) (any, error) {
		var in In
		if err := read(raw, &in); err != nil {
			return nil, err
		}
		return call(e, in)
	}
}

func read(raw []byte, to any) error {
	if err := json.Unmarshal(raw, to); err != nil {
		return fault.Fault{Code: book.Malformed, Field: "call", Limit: "is not the JSON that was expected: " + err.Error(),
			Remedy: "load the page again; if it stays so, the page and its engine are of two builds"}
	}
	return nil
}

// Call answers one call with JSON. Where there are records to tell, they follow
// it as they are, after a line end.
func (e *Engine) Call(name string, in []byte) []byte {
	var out any
	var err error = fault.Fault{Code: fault.Unknown, Field: "call", Value: name, Limit: "is nothing the engine answers", Remedy: "load the page again"}
	if call, ok := e.calls[name]; ok {
		out, err = call(e, in)
	} else if e.more == nil {
		err = errElsewhere
	}
	switch {
	case errors.Is(err, errElsewhere):
		out = elsewhere{true}
	case err != nil:
		out = refusal{Faults: spoken(err)}
	}
	raw, err := json.Marshal(out)
	if err != nil {
		panic(err) // every result is a struct of strings and numbers
	}
	if acts, ok := out.(acts); ok && len(acts.beside) > 0 {
		raw = append(append(raw, '\n'), acts.beside...)
	}
	return raw
}

// A refusal is the answer to a call at fault.
type refusal struct {
	Faults []spokenFault `json:"faults"`
}

// A spokenFault is a fault with the sentence to show at its field: the fault's
// own words without the key, which the field's label stands for.
type spokenFault struct {
	fault.Fault
	Sentence string `json:"sentence"`
}

// spoken takes any error as faults with their sentences.
func spoken(err error) []spokenFault {
	var list fault.List
	var foreign record.Fault
	if errors.As(err, &foreign) {
		err = fault.Fault{Code: fault.Code(foreign.Code), Field: foreign.Field, Value: foreign.Value, Limit: foreign.Limit, Remedy: foreign.Remedy, Entry: foreign.Entry}
	}
	list.Add("", err)
	out := make([]spokenFault, len(list))
	for i, f := range list {
		out[i] = spokenFault{f, sentence(f)}
	}
	return out
}

func sentence(f fault.Fault) string {
	var b strings.Builder
	if f.Value != "" {
		b.WriteString("“" + f.Value + "” ")
	}
	b.WriteString(f.Limit)
	if f.Remedy != "" {
		b.WriteString("; " + f.Remedy)
	}
	b.WriteString(".")
	return capital(b.String())
}

// capital starts a sentence.
func capital(s string) string {
	if s == "" {
		return s
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

type greeting struct {
	App string `json:"app"` // the page's build
}

// hello starts the exchange of this page.
func (e *Engine) hello(in greeting) (any, error) {
	e.exchange, e.coming = exchange.NewClient(in.App, e.chance), nil
	return struct{}{}, nil
}

// chance is a number from 0 up to 1. A phone that gives no random number waits
// the longest.
func (e *Engine) chance() float64 {
	var raw [8]byte
	if _, err := io.ReadFull(e.outside.Random, raw[:]); err != nil {
		return 1
	}
	return float64(binary.BigEndian.Uint64(raw[:])>>11) / (1 << 53)
}

type opened struct {
	Entries    int `json:"entries"`
	Incomplete int `json:"incomplete"` // entries this build does not understand
}

func (e *Engine) open(lines []byte) (any, error) {
	e.book, e.unread, e.arrived = book.New(), 0, nil
	return e.add(lines)
}

// add folds lines of the log, and what arrived without them.
func (e *Engine) add(lines []byte) (any, error) {
	entries := make([]*book.Entry, len(e.arrived))
	for i, r := range e.arrived {
		entries[i] = entryOf(r)
	}
	e.arrived = nil
	for line := range bytes.Lines(lines) {
		line = bytes.TrimSuffix(line, []byte("\n"))
		if len(line) == 0 {
			continue
		}
		entry, err := EntryOf(line)
		if err != nil {
			e.unread++
			continue
		}
		entries = append(entries, entry)
	}
	e.book.Add(entries...)
	return opened{e.book.Len() + e.unread, e.book.State().Incomplete() + e.unread}, nil
}

// EntryOf reads a record as an entry of the book. A body that cannot be read
// leaves an entry that the book counts as not understood.
func EntryOf(line []byte) (*book.Entry, error) {
	r, err := record.Decode(line)
	if err != nil {
		return nil, err
	}
	return entryOf(r), nil
}

func entryOf(r record.Record) *book.Entry {
	body, _ := book.Decode(r.Kind, r.V, r.Body)
	return &book.Entry{
		ID: r.ID.String(), Device: r.Device, Seq: uint64(r.Seq), Clock: r.Clock.String(),
		Written:  book.MomentAt(r.Written.UnixMilli(), string(r.Written)),
		Happened: book.MomentAt(r.Happened.UnixMilli(), string(r.Happened)),
		By:       r.By, Seen: uint64(r.Seen), Kind: r.Kind, Version: r.V, Body: body, Raw: r.Body,
	}
}

type sealing struct {
	typed
	Happened record.Stamp     `json:"happened"`
	Written  record.Stamp     `json:"written"`
	By       string           `json:"by"`
	Chain    exchange.Chain   `json:"chain"`
	Contact  exchange.Contact `json:"contact"`
}

type sealed struct {
	Address string         `json:"address"`
	Held    exchange.Held  `json:"held"`
	Next    exchange.Chain `json:"next"`
}

// seal makes the record of what is typed, if nothing is wrong with it.
func (e *Engine) seal(in sealing) (any, error) {
	if e.beyond(in.Kind) {
		return nil, errElsewhere
	}
	body, faults := e.compose(in.typed)
	if len(faults) > 0 {
		return nil, faults
	}
	kind := book.KindOf(body)
	if err := e.withinRole(in.Chain.Device, kind, book.Encode(body)); err != nil {
		return nil, err
	}
	id, err := e.newID()
	if err != nil {
		return nil, err
	}
	line, next, err := exchange.Seal(in.Chain, in.Contact, exchange.Draft{
		Kind: kind.Name, V: kind.Version, Body: book.Encode(body), Happened: in.Happened, Written: in.Written, By: in.By,
	}, id)
	if err != nil {
		return nil, err
	}
	return sealed{
		Address: string(book.MakeAddress(next.Device, uint64(next.Seq))),
		Held:    exchange.Held{ID: id.String(), Line: string(line), State: exchange.Unsent},
		Next:    next,
	}, nil
}

func (e *Engine) newID() (uuid.UUID, error) {
	var random [10]byte
	if _, err := io.ReadFull(e.outside.Random, random[:]); err != nil {
		return uuid.UUID{}, fmt.Errorf("the phone gave no random number: %w", err)
	}
	return record.NewID(e.outside.Now(), random), nil
}

type told struct {
	exchange.Tell
	Problem *spokenFault `json:"problem,omitempty"`
}

// An effect is exchange.Effect with the sentence of what it tells, and without
// what stands beside it.
type effect struct {
	exchange.Effect
	Tell *told `json:"tell,omitempty"`
}

// acts is what an event leads to.
type acts struct {
	Effects []effect `json:"effects"`
	Took    int      `json:"took"` // records that are stored by it and that add will fold

	// The lines of all that is to be put, in order, each with its end; after
	// them the body of the request. JSON would write every quote in them twice.
	beside []byte
}

// exchangeEvent tells the exchange an event: JSON, and after a line end the
// body of a reply as it came, or the lines of what is unsent, one for each.
func (e *Engine) exchangeEvent(raw []byte) (any, error) {
	var event exchange.Event
	raw, body, _ := bytes.Cut(raw, []byte("\n"))
	if err := read(raw, &event); err != nil {
		return nil, err
	}
	if e.exchange == nil {
		return nil, fault.Fault{Code: fault.Conflict, Field: "call", Value: "exchange", Limit: "came before hello", Remedy: "load the page again"}
	}
	if event.Replied != nil && len(body) > 0 {
		event.Replied.Body = string(body)
	}
	if event.Opened != nil && len(event.Opened.Unsent) > 0 && len(body) > 0 {
		lines := bytes.Split(body, []byte("\n"))
		if len(lines) != len(event.Opened.Unsent) {
			return nil, fault.Fault{Code: book.Malformed, Field: "call", Value: strconv.Itoa(len(lines)) + " lines",
				Limit: fmt.Sprintf("are not those of %d unsent entries", len(event.Opened.Unsent)), Remedy: "load the page again"}
		}
		for i, line := range lines {
			event.Opened.Unsent[i].Line = string(line)
		}
	}
	out := acts{Effects: []effect{}}
	switch {
	case event.Stored != nil: // the log has it now, and so may the book
		out.Took = len(e.coming)
		e.arrived = append(e.arrived, e.coming...)
		e.coming = nil
	case event.NotStored != nil, event.Opened != nil:
		e.coming = nil
	}
	var request string
	for _, done := range e.exchange.Step(event) {
		to := effect{Effect: done}
		switch {
		case done.Tell != nil:
			to.Tell = &told{Tell: *done.Tell}
			if done.Tell.Problem != nil {
				to.Tell.Problem = &spoken(*done.Tell.Problem)[0]
			}
		case done.Store != nil:
			e.coming = done.Store.Records
			store := *done.Store
			store.Put = slices.Clone(store.Put)
			for i := range store.Put {
				out.beside = append(append(out.beside, store.Put[i].Line...), '\n')
				store.Put[i].Line = ""
			}
			to.Store = &store
		case done.Send != nil:
			send := *done.Send
			request, send.Body = send.Body, ""
			to.Send = &send
		}
		out.Effects = append(out.Effects, to)
	}
	out.beside = append(out.beside, request...)
	return out, nil
}
