package server

import (
	"context"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/google/uuid"
)

// A Book is the log as the server needs it.
type Book interface {
	// Update runs one write transaction and returns after it is on the disk.
	// An error with a method NoRoom() bool that says true means a full disk.
	Update(ctx context.Context, sender string, f func(exchange.Ledger) error) error
	// View runs f on one consistent view of the log.
	View(ctx context.Context, f func(exchange.Reader) error) error

	// DeviceByToken finds a device by the hash of its secret; false if there is none.
	DeviceByToken(ctx context.Context, token [32]byte) (Device, bool, error)
	// Devices are all that ever joined.
	Devices(ctx context.Context) ([]Device, error)
	// NameUsed says whether the book knows the name, from a device or an entry.
	NameUsed(ctx context.Context, name string) (bool, error)
	// AddDevice lets a device in; false if its name is a device's already.
	AddDevice(ctx context.Context, d Device) (bool, error)
	// RenewDevice gives a device another secret, role, label and end.
	RenewDevice(ctx context.Context, d Device) error
	// EndDevice ends a device's time at the given moment.
	EndDevice(ctx context.Context, name string, at time.Time) error
	// Holds says how many of the entries are in the log or kept beside it.
	Holds(ctx context.Context, ids []uuid.UUID) (int, error)
	// Asides are the things kept beside the log, in the order in which they came.
	Asides(ctx context.Context) ([]Aside, error)
}

// An Aside is one thing kept beside the log.
type Aside struct {
	State    string // quarantined, forked or malformed
	Sender   string
	Received time.Time
	Fault    record.Fault
	Line     []byte
}

// A Device may write to the book.
type Device struct {
	Name   string
	Token  [32]byte // SHA-256 of the secret it shows
	Role   string   // a role.Grant as text, or Controller
	Label  string   // what its people call it
	Was    string   // the name it had before, if it had to take another
	Joined time.Time
	Ended  time.Time // when its time ends or ended; zero for no end
}

// Over says whether the device's time has ended.
func (d Device) Over(now time.Time) bool { return !d.Ended.IsZero() && !now.Before(d.Ended) }

// Owner is the role that may do everything.
const Owner = "owner"

// An Authoriser says what a device's role allows.
type Authoriser interface {
	Rights(Device) exchange.Rights
}

// A Checker finds what is wrong with an entry by the rules of the trade. What
// it finds is counted and never refused: the thing happened.
type Checker interface {
	Check(line []byte) fault.List
}
