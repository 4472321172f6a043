package engine

import "gaugebook/calc/book"

// Hold gives an engine a book whose entries were never sealed.
func (e *Engine) Hold(entries []*book.Entry) { e.book.Add(entries...) }

// Book is the engine's own.
func (e *Engine) Book() *book.Book { return e.book }
