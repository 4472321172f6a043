package engine

import "gaugebook/calc/book"

// A glossary is what one room's part of the manual says of its entries, in the
// words of the kinds themselves, so that the two cannot part.
type glossary struct {
	Kinds []explained `json:"kinds"`
}

type explained struct {
	Name   string      `json:"name"`
	Help   string      `json:"help"`
	Needs  string      `json:"needs,omitempty"`
	Fields []fieldSaid `json:"fields"`
}

type fieldSaid struct {
	Label string `json:"label"`
	Help  string `json:"help,omitempty"`
}

// manual explains the kinds of a room, by the page's key; a room without kinds
// of its own has none.
func (e *Engine) manual(room string) glossary {
	out := glossary{Kinds: []explained{}}
	for _, k := range book.Kinds() {
		if doors[k.Room] != room {
			continue
		}
		x := explained{Name: capital(k.Name), Help: k.Help, Needs: k.Needs, Fields: []fieldSaid{}}
		for _, f := range k.Fields {
			x.Fields = append(x.Fields, fieldSaid{f.Label, f.Help})
		}
		out.Kinds = append(out.Kinds, x)
	}
	return out
}
