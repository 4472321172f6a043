// Package engine is the phone's face of calc and sync: one function, a name
// and JSON in, JSON out. cmd/engine hangs it on one JavaScript function; the
// tests call it as it is.
//
// It comes in two sizes that give the same answers. NewPocket is what every
// phone opens with: the exchange, every form and every saving, the still room,
// the ferment hall, a bottling station, an entry. New is whole: every room's
// views and figures, calculations, plans, files. What the pocket engine has not,
// it answers with {"elsewhere":true}, and the page puts the whole one in its
// place. Files that the build tag 'pocket' leaves out hold what would come into
// the pocket engine by being imported; the linker leaves out the rest.
//
// The calls, each answering with its result or with {"faults":[…]}:
//
//	hello     {app}                   begin, as the page of this build   {}
//	open      lines of records        forget everything, hold these      {entries, incomplete}
//	add       lines of records        hold these too, and what the exchange  {entries, incomplete}
//	                                  took since
//	form      {kind}                  a kind's form as the book stands   {kind, help, fields}
//	preview   {kind, body}            what follows from what is typed    {wrong, result}
//	seal      {kind, body, happened,  the next record of this device     {address, held, next}
//	           written, by, chain, contact}
//	clock     {chain, after,          the entry that marks what this device  {kind, body, happened}
//	           offset_ms, written}    wrote by a wrong clock since 'after'
//	view      {what, …}               what a room shows: 'yard', 'mash',
//	                                  'ferment', 'still', 'store', 'bottling',
//	                                  'office', 'entry'
//	qr        {text}                  a text to be scanned               {rows}
//	exchange  an exchange.Event       what to do about it                {effects, took}
//
// What belongs to an exchange and is lines already stands behind the JSON, after
// a line end: a reply's body or the unsent lines behind an event; behind the
// effects the lines that are put, then the body that is sent. 'took' counts the
// records that the page's log has stored by this event, and that add will hold
// without being given them.
//
// A form of the kind 'calc strike' is the calculation of that name in
// calc/reckon: it answers as gaugebook calc does, and keeps nothing.
//
// A fault travels with its sentence, so that the page never composes one. Every
// figure leaves as the text to be shown, and a chart as parts of its height and
// width: the page works nothing out.
//
// Seal changes nothing here: the page stores the record first and then adds
// it, so what the engine holds is never ahead of what the phone holds.
//
// The package refuses to touch a browser, a clock or a random source of its
// own: they come in by Outside.
//
// Its one surprise: a line that no build can have written does not stop open.
// It is counted as not understood, like the kind of a newer build, because a
// phone must open whatever it holds.
package engine
