package main

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"time"

	"traybook/cmd/traybook/web"
	"traybook/events"
	"traybook/events/sqlite"
)

// Now is the time of day.
func (b *servedBook) Now() time.Time { return b.env.Now() }

// Run hands the run at the camera to f, in one write of the book.
func (b *servedBook) Run(press string, at time.Time, f func(*web.Run) error) error {
	book, err := sqlite.Open(b.path, bookOptions(false))
	if errors.Is(err, sqlite.ErrNoBook) {
		return noBookAt(b.path)
	}
	if err != nil {
		return err
	}
	defer book.Close()
	env := *b.env
	env.clockBack = book.ClockBack
	err = book.InParts(func(parts *sqlite.Parts) error {
		door := &benchDoor{env: &env, c: b.c, book: parts, pressed: at}
		run := &web.Run{Door: door, Dream: parts.Dream}
		run.Last = func() (last int64, err error) {
			err = parts.Read(func(tx *sqlite.Tx) (err error) { last, err = tx.LastSeq(); return err })
			return last, err
		}
		run.Stand = func(now time.Time) { // the clock stands in a dream, and every step of it has its own
			env.Now = func() time.Time { return now }
			door.pressed = time.Time{}
		}
		err := parts.Read(func(tx *sqlite.Tx) error {
			zone, err := zoneOf(&env, tx)
			if err != nil {
				return err
			}
			run.Now = moment(env.Now()).In(zone)
			if press != "" {
				door.ids = idsOf(press)
				found, err := tx.Find(idsOf(press)().String())
				run.Known = len(found) > 0
				return err
			}
			return nil
		})
		if err != nil {
			return err
		}
		if err := f(run); err != nil {
			return err
		}
		if !run.Keep {
			return errOnlyLooked
		}
		return nil
	})
	if errors.Is(err, errOnlyLooked) {
		return nil
	}
	return err
}

// idsOf gives the entries that one press writes their ids. They follow from the id that the page gave the press, so that a
// press which comes again is known by what it wrote, whatever was cut or killed in between.
func idsOf(press string) func() events.ID {
	n := 0
	return func() events.ID {
		sum := sha256.Sum256(fmt.Appendf(nil, "traybook press %s %d", press, n))
		n++
		return events.ID(sum[:len(events.ID{})])
	}
}
