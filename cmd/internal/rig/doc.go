// Package rig puts the real thing on a bench: the gaugebook binary with its
// book on the disk (Office), the network between it and the phones (Wire), and
// Chromium driven as a hand drives a phone (Phone and its Tabs). The browser
// tests and the command that makes the README's pictures are written with it.
//
// A Tab finds what a person would look for: a control by its label, a button
// by its words, inside a form or a drawer by its title ("Register a vessel >
// Name"). It touches the middle of what it found and complains if something
// lies over it. It waits for conditions and gives up at a deadline. What fails is told with a picture of the page and its text.
//
// The package refuses to reach the network: whatever Chromium asks of another
// address than this machine's ends in a listener that notes it (Strayed).
//
// Its one surprise: the network between phone and office is a Wire, a forwarder
// with one address for good, so that the office may be killed and come back on
// another port while the page keeps its origin, and so that cutting it cuts the
// service worker and a starting browser off as well, which switching a tab
// offline does not.
package rig
