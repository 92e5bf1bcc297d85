package sqlite

import (
	"database/sql"
	"errors"
	"strings"
	"sync"
)

// objects are the tables, indexes and triggers of the schema, by name, with the text that SQLite keeps of each.
var objects = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	var stmt strings.Builder
	inside := false
	for _, line := range strings.SplitAfter(schema, "\n") {
		if !inside && !strings.HasPrefix(line, "CREATE") {
			continue
		}
		inside = true
		stmt.WriteString(line)
		code, _, _ := strings.Cut(line, "--")
		code = strings.TrimSpace(code)
		// A trigger's body holds a semicolon of its own; the trigger ends with END.
		isTrigger := strings.HasPrefix(stmt.String(), "CREATE TRIGGER")
		if strings.HasSuffix(code, "END;") || !isTrigger && strings.HasSuffix(code, ";") {
			text := strings.TrimSpace(stmt.String())
			text = text[:strings.LastIndex(text, ";")]
			out[strings.Fields(text)[2]] = text // CREATE TABLE name
			stmt.Reset()
			inside = false
		}
	}
	return out
})

// triggerNames are the guards of the entries.
var triggerNames = []string{"entry_is_new", "entry_no_update", "entry_no_delete"}

// restoreTriggers makes the guards as they should be.
func (tx *Tx) restoreTriggers() error {
	for _, name := range triggerNames {
		var text string
		err := tx.tx.QueryRow("SELECT sql FROM sqlite_schema WHERE type='trigger' AND name=?", name).Scan(&text)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return translate(err)
		}
		if text == objects()[name] {
			continue
		}
		if _, err := tx.tx.Exec("DROP TRIGGER IF EXISTS " + name); err != nil {
			return translate(err)
		}
		if _, err := tx.tx.Exec(objects()[name]); err != nil {
			return translate(err)
		}
	}
	return nil
}
