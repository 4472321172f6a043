// Package server puts one book on the network: it hands out the page, takes
// and gives records, and lets phones in.
//
// It is for three promises. A push is answered only after its records are on
// the disk (Book.Update returns no earlier). Nothing is refused for what it
// says about the trade: form, identity and role decide, by the same code the
// phone runs (sync/exchange); what Checker finds is counted and no more. And
// every refusal, whichever layer it comes from, is the same JSON: faults with
// field, value, limit and remedy.
//
//	GET  /, /sw.js, /app/…     the page, from webapp
//	POST /sync/v1/join         lets a phone in: with a code, or, in a demo on this machine, without
//	POST /sync/v1/push         takes records
//	GET  /sync/v1/pull         gives records
//	GET  /sync/v1/live         server-sent events: the log's new end, a hint to pull
//	POST /controller/v1/join   gives a tank controller its key, for a code
//	POST /controller/v1/readings  takes what it measured, JSON or CSV; sealed here, in its name
//	GET  /phone/v1/me          what this phone is: role, end, two words
//	POST /phone/v1/held        how many of the entries it names are here
//	POST /phone/v1/leave       it is handed back
//	…    /devices/v1           the owner's: phones, invite, end, accept what waits
//	GET  /join, /trusted       the join sheet, and whether this phone trusts it
//	GET  /healthz              whether the book can be read
//
// All but the page, join and healthz need a device's session: a cookie that no
// script can read, or, for tools, an Authorization header. The store keeps only
// a hash of it, and the log shows neither it nor a code.
//
// The package refuses names it was not told in the Host header (a hostile page
// may point its own name at this machine), requests that another site's page
// sends, bodies larger than a push, and phones that ask too often.
//
// Neighbours: sync/exchange decides, Book stores (server/store fills it in,
// which server/shelf joins on), webapp holds the files. TLS is the listener's:
// Serve takes any net.Listener and looks at each request for what it is.
//
// Its one surprise: the session's cookie has the port in its name, because
// browsers give cookies to every port of a host, and a demo beside the real
// book must not throw the phone out of either.
package server
