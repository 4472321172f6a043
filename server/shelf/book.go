package shelf

import (
	"context"

	"gaugebook/server"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
)

// A Book is a store as the server wants it.
type Book struct{ *store.Store }

var _ server.Book = Book{}

func (b Book) Update(ctx context.Context, sender string, f func(exchange.Ledger) error) error {
	return b.Store.Update(ctx, sender, func(l *store.Ledger) error { return f(l) })
}

func (b Book) View(ctx context.Context, f func(exchange.Reader) error) error {
	return b.Store.View(ctx, func(v *store.View) error { return f(v) })
}

func (b Book) DeviceByToken(ctx context.Context, token [32]byte) (server.Device, bool, error) {
	d, ok, err := b.Store.DeviceByToken(ctx, token)
	return server.Device(d), ok, err
}

func (b Book) Devices(ctx context.Context) ([]server.Device, error) {
	ds, err := b.Store.Devices(ctx)
	out := make([]server.Device, len(ds))
	for i, d := range ds {
		out[i] = server.Device(d)
	}
	return out, err
}

func (b Book) Asides(ctx context.Context) ([]server.Aside, error) {
	all, err := b.Store.Asides(ctx)
	out := make([]server.Aside, len(all))
	for i, a := range all {
		out[i] = server.Aside(a)
	}
	return out, err
}

func (b Book) AddDevice(ctx context.Context, d server.Device) (bool, error) {
	return b.Store.AddDevice(ctx, store.Device(d))
}

func (b Book) RenewDevice(ctx context.Context, d server.Device) error {
	return b.Store.RenewDevice(ctx, store.Device(d))
}
