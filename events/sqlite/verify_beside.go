package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"traybook/events"
)

// shadow is where names go while the entries are gone through anew without touching the file.
type shadow struct {
	entities []shadowEntity // by id, from 1
	cites    [][2]int64
	mends    [][2]int64
}

type shadowEntity struct {
	bare string
	row  entityRow
}

func (s *shadow) addEntity(bare string, row entityRow) (int64, error) {
	row.id = int64(len(s.entities)) + 1
	s.entities = append(s.entities, shadowEntity{bare, row})
	return row.id, nil
}

func (s *shadow) addCite(entity, seq int64) error {
	s.cites = append(s.cites, [2]int64{entity, seq})
	return nil
}

func (s *shadow) addCorrection(target, seq int64) error {
	s.mends = append(s.mends, [2]int64{target, seq})
	return nil
}

// inShadow gives a look at the same state in which the entries can be gone through anew: what they give goes into sh.
func inShadow(tx *Tx, sh *shadow) *Tx {
	beside := newTx(tx.b, tx.file, sh)
	beside.chains.dry, beside.names.all = true, true // no name is given yet
	beside.views.folder = nil                        // no view is kept
	beside.corrections.menders = menders{}
	return beside
}

// replayed is what going through the entries anew brought to light for the views.
type replayed struct {
	entities []shadowEntity
	viewed   map[int64]bool // entities that something has its stream in, or takes paper from
	dangles  map[string]int
}

// beside goes through the entries as if they came in anew and holds what stands beside them against that.
func (v *verifier) beside() (*replayed, error) {
	voided, err := standingVoids(v.tx)
	if err != nil {
		return nil, err
	}
	sh := &shadow{}
	tx := inShadow(v.tx, sh)
	if err := tx.chains.blank(); err != nil {
		return nil, err
	}
	out := &replayed{viewed: map[int64]bool{}, dangles: map[string]int{}}
	var cites, mends, done int64
	var unfit unfitRows
	for page, err := range tx.file.pages(true) {
		if err != nil {
			return nil, err
		}
		for i := range page {
			row := &page[i]
			if row.err != nil {
				v.r.problem(ProblemBytes, idIn(row.body), "entry number %d: %s", row.seq, row.err)
				return nil, nil
			}
			unfit.look(row)
			want, p, err := rederive(tx, &row.entry)
			if isTrouble(err) {
				return nil, err
			}
			if err != nil {
				v.r.problem(ProblemColumn, row.entry.ID.String(), "entry number %d: %s", row.seq, err)
				continue
			}
			if diff := differs(row.kept, want); diff != "" {
				v.r.problem(ProblemColumn, row.entry.ID.String(), "entry number %d: %s beside its bytes is not what they say; `traybook rebuild` puts it right", row.seq, diff)
			}
			if err := tx.link(&row.entry, p, want, tx.meanings.byChain); err != nil {
				return nil, err
			}
			out.viewed[want.stream] = true
			if want.box.Valid {
				out.viewed[want.box.Int64] = true
			}
			voided.look(&row.entry, want, sh, out)
		}
		for _, c := range sh.cites {
			if sh.entities[c[0]-1].row.kind == events.Box {
				out.viewed[c[0]] = true
			}
		}
		c, m, err := v.links(sh)
		if err != nil {
			return nil, err
		}
		cites, mends, done = cites+c, mends+m, done+int64(len(page))
		if v.o.Progress != nil {
			v.o.Progress(done, v.r.Events)
		}
	}
	out.entities = sh.entities
	if err := v.counts(cites, mends); err != nil {
		return nil, err
	}
	voided.notes(v.r, out)
	unfit.notes(v.r)
	return out, v.entities(sh.entities)
}

// idIn reads the id out of stored bytes that may not be whole.
func idIn(stored []byte) string {
	f, err := footOf(stored)
	if err != nil {
		return ""
	}
	return f.id.String()
}

// differs names the columns that differ.
func differs(got, want columns) string {
	var names []string
	for _, c := range []struct {
		name string
		same bool
	}{
		{"id", got.id == want.id}, {"chain", got.chain == want.chain}, {"book_seq", got.bookSeq == want.bookSeq}, {"kind", got.kind == want.kind},
		{"at", got.at == want.at}, {"stream", got.stream == want.stream}, {"box", got.box == want.box}, {"bath", got.bath == want.bath},
		{"session", got.session == want.session}, {"batch", got.batch == want.batch},
	} {
		if !c.same {
			names = append(names, c.name)
		}
	}
	return strings.Join(names, ", ")
}

// links looks up what a page of entries cites and mends.
func (v *verifier) links(sh *shadow) (cites, mends int64, err error) {
	check := func(text, kind, what string, pairs [][2]int64) (n int64, err error) {
		have := map[[2]int64]bool{}
		for _, p := range pairs {
			if have[p] {
				continue
			}
			have[p] = true
			n++
			var there int
			err := v.tx.file.QueryRow(text, p[0], p[1]).Scan(&there)
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return n, translate(err)
			}
			if err != nil {
				id, err := v.tx.file.idAt(p[1])
				if err != nil {
					return n, err
				}
				v.r.problem(kind, id.String(), "that entry number %d %s is not in its index; `traybook rebuild` puts it right", p[1], what)
				n--
			}
		}
		return n, nil
	}
	if cites, err = check("SELECT 1 FROM cite WHERE entity=? AND seq=?", ProblemCite, "names something", sh.cites); err != nil {
		return 0, 0, err
	}
	mends, err = check("SELECT 1 FROM correction WHERE target=? AND seq=?", ProblemCorrection, "amends or voids another", sh.mends)
	sh.cites, sh.mends = sh.cites[:0], sh.mends[:0]
	return cites, mends, err
}

// counts finds rows in the indexes that no entry accounts for.
func (v *verifier) counts(cites, mends int64) error {
	for _, c := range []struct {
		table, kind, what string
		want              int64
	}{{"cite", ProblemCite, "what names what", cites}, {"correction", ProblemCorrection, "voids and amendments", mends}} {
		var n int64
		if err := v.tx.file.QueryRow("SELECT count(*) FROM " + c.table).Scan(&n); err != nil {
			return translate(err)
		}
		if n > c.want {
			v.r.problem(c.kind, "", "the index of %s holds %d more than the entries say; `traybook rebuild` puts it right", c.what, n-c.want)
		}
	}
	return nil
}

// entities holds the kept names against those that the entries gave.
func (v *verifier) entities(want []shadowEntity) error {
	next := 0
	missing := func() {
		t := want[next]
		v.r.problem(ProblemName, "", "the name %s is not in its index; `traybook rebuild` puts it right", joinRank(t.bare, t.row.rank))
		next++
	}
	rows, err := v.tx.file.Query("SELECT id, name, rank, kind, chain, seq FROM entity ORDER BY id")
	if err := each(rows, err, func(s scanner) error {
		var bare string
		var row entityRow
		if err := s.Scan(&row.id, &bare, &row.rank, &row.kind, &row.chain, &row.seq); err != nil {
			return err
		}
		for next < len(want) && want[next].row.id < row.id {
			missing()
		}
		if next == len(want) || want[next].row.id != row.id {
			v.r.problem(ProblemName, "", "the index of names holds %s, which no entry gave", joinRank(bare, row.rank))
			return nil
		}
		t := want[next]
		t.row.bookSeq = 0
		if t.bare != bare || t.row != row {
			v.r.problem(ProblemName, "", "the name %s stands otherwise in its index than the entries say; `traybook rebuild` puts it right", joinRank(t.bare, t.row.rank))
		}
		next++
		return nil
	}); err != nil {
		return err
	}
	for next < len(want) {
		missing()
	}
	return nil
}

// voids are the entries that were taken back, so that what still stands on them can be told.
type voids struct {
	ids      map[events.ID]bool
	sheets   map[string]events.ID // sheet and stream: the voided exposure that made it
	entities map[int64]events.ID  // the voided entry that named the thing
	remade   map[int64]bool       // entities that another entry names too
	remadeSh map[string]bool
}

// standingVoids finds the entries that count as voided.
func standingVoids(tx *Tx) (*voids, error) {
	v := &voids{ids: map[events.ID]bool{}, sheets: map[string]events.ID{}, entities: map[int64]events.ID{}, remade: map[int64]bool{}, remadeSh: map[string]bool{}}
	es, err := tx.file.entries("SELECT " + entryColumns + ` FROM entry e WHERE e.seq IN (SELECT seq FROM correction UNION SELECT target FROM correction
		UNION SELECT t.seq FROM (SELECT DISTINCT target FROM correction WHERE target<0) k CROSS JOIN entry f ON f.seq=-k.target CROSS JOIN entry t ON t.batch=f.batch)`)
	if err != nil {
		return nil, err
	}
	for _, e := range events.FoldAll(es) {
		if !e.Voided.IsZero() {
			v.ids[e.ID] = true
		}
	}
	return v, nil
}

// look notes whether an entry stands on something voided.
func (v *voids) look(e *events.Entry, c columns, sh *shadow, out *replayed) {
	if len(v.ids) == 0 || e.Kind == events.EntryVoided || e.Kind == events.EntryAmended {
		return
	}
	p := events.PlacesOf(e.Data)
	makesSheet := e.Kind == events.SheetExposed || e.Kind == events.SheetReprinted
	sheet := events.SheetOf(e.Data)
	key := fmt.Sprint(c.stream, " ", sheet)
	if v.ids[e.ID] {
		if p.Stream.New && sh.entities[c.stream-1].row.seq == e.Seq {
			v.entities[c.stream] = e.ID
		}
		if makesSheet {
			v.sheets[key] = e.ID
		}
		return
	}
	if p.Stream.New {
		v.remade[c.stream] = true
	}
	if makesSheet {
		v.remadeSh[key] = true
	}
	about := func(by events.ID) { out.dangles[by.String()]++ }
	if by, ok := v.sheets[key]; ok && sheet != "" && !v.remadeSh[key] {
		about(by)
		return
	}
	for _, entity := range []int64{c.stream, c.box.Int64, c.bath.Int64, c.session.Int64} {
		if by, ok := v.entities[entity]; ok && !v.remade[entity] {
			about(by)
			return
		}
	}
	if f, ok := events.FieldOf(e.Kind, "reading"); ok {
		if text, there := f.Value(e.Data); there {
			if id, err := events.ParseID(text.(string)); err == nil && v.ids[id] {
				about(id)
			}
		}
	}
}

func (v *voids) notes(r *Report, out *replayed) {
	for _, id := range slices.Sorted(maps.Keys(out.dangles)) {
		if n := out.dangles[id]; n == 1 {
			r.note("entry %s is voided, but one entry still depends on it", id)
		} else {
			r.note("entry %s is voided, but %d entries still depend on it", id, n)
		}
	}
}
