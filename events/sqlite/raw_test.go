package sqlite

import (
	"context"
	"database/sql/driver"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// plainConnector opens a file with the bare driver.
type plainConnector string

func (c plainConnector) Connect(context.Context) (driver.Conn, error) {
	return (&sqlite3.SQLiteDriver{}).Open(string(c))
}
func (c plainConnector) Driver() driver.Driver { return &sqlite3.SQLiteDriver{} }
