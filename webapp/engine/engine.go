package engine

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
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
	grant    role.Grant // what the office says this phone is for

	forecasts map[uint64]foretold // by what they were made of
	outlooks  map[uint64]ahead
	charges   map[book.Address]charged // while one view is made
}

// New is an engine with an empty book.
func New(outside Outside) *Engine {
	return &Engine{outside: outside, book: book.New()}
}

// calls lists what Call answers.
var calls = map[string]func(*Engine, []byte) (any, error){
	"hello":     with((*Engine).hello),
	"open":      (*Engine).open,
	"add":       (*Engine).add,
	"form":      with((*Engine).form),
	"preview":   with((*Engine).preview),
	"seal":      with((*Engine).seal),
	"clock":     with((*Engine).clock),
	"view":      with((*Engine).view),
	"role":      with((*Engine).roleIs),
	"countable": with((*Engine).countable),
	"exchange":  with((*Engine).exchangeEvent),
	"qr":        with((*Engine).qr),
	"csv":       with((*Engine).csv),
}

// with reads a call's JSON into what it takes.
func with[In any](call func(*Engine, In) (any, error)) func(*Engine, []byte) (any, error) {
	return func(e *Engine, raw []byte) (any, error) {
		var in In
		if err := json.Unmarshal(raw, &in); err != nil {
			return nil, fault.Fault{Code: book.Malformed, Field: "call", Limit: "is not the JSON that was expected: " + err.Error(),
				Remedy: "load the page again; if it stays so, the page and its engine are of two builds"}
		}
		return call(e, in)
	}
}

// Call answers one call with JSON.
func (e *Engine) Call(name string, in []byte) []byte {
	call, ok := calls[name]
	var out any
	var err error = fault.Fault{Code: fault.Unknown, Field: "call", Value: name, Limit: "is nothing the engine answers", Remedy: "load the page again"}
	if ok {
		out, err = call(e, in)
	}
	if err != nil {
		out = refusal{Faults: spoken(err)}
	}
	raw, err := json.Marshal(out)
	if err != nil {
		panic(err) // every result is a struct of strings and numbers
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
	e.exchange = exchange.NewClient(in.App, e.chance)
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
	e.book, e.unread = book.New(), 0
	return e.add(lines)
}

func (e *Engine) add(lines []byte) (any, error) {
	var entries []*book.Entry
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
	body, _ := book.Decode(r.Kind, r.V, r.Body)
	return &book.Entry{
		ID: r.ID.String(), Device: r.Device, Seq: uint64(r.Seq), Clock: r.Clock.String(),
		Written:  book.MomentAt(r.Written.UnixMilli(), string(r.Written)),
		Happened: book.MomentAt(r.Happened.UnixMilli(), string(r.Happened)),
		By:       r.By, Seen: uint64(r.Seen), Kind: r.Kind, Version: r.V, Body: body, Raw: r.Body,
	}, nil
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

// An effect is exchange.Effect with the sentence of what it tells.
type effect struct {
	exchange.Effect
	Tell *told `json:"tell,omitempty"`
}

func (e *Engine) exchangeEvent(event exchange.Event) (any, error) {
	var out struct {
		Effects []effect `json:"effects"`
	}
	out.Effects = []effect{}
	if e.exchange == nil {
		return nil, fault.Fault{Code: fault.Conflict, Field: "call", Value: "exchange", Limit: "came before hello", Remedy: "load the page again"}
	}
	for _, done := range e.exchange.Step(event) {
		to := effect{Effect: done}
		if done.Tell != nil {
			to.Tell = &told{Tell: *done.Tell}
			if done.Tell.Problem != nil {
				to.Tell.Problem = &spoken(*done.Tell.Problem)[0]
			}
		}
		out.Effects = append(out.Effects, to)
	}
	return out, nil
}
