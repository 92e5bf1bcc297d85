package web

import (
	"encoding/json"
	"net/http"
	"time"

	"traybook/cmd/traybook/bench"
)

// aheadNode is one view that lies ahead, and where its presses lead.
type aheadNode struct {
	shown
	Edges []aheadEdge `json:"edges,omitempty"`
}

// aheadEdge is where a press leads: of a clock that runs from so many seconds after it began until so many.
type aheadEdge struct {
	Key    string   `json:"key"`
	From   *float64 `json:"from,omitempty"`
	To     *float64 `json:"to,omitempty"`
	Node   int      `json:"node"`
	Writes bool     `json:"writes,omitempty"`
}

// aheadAnswer is what a page goes on with while the book is out of reach: the views of the server, drawn beforehand.
type aheadAnswer struct {
	Hand  string      `json:"hand"`
	Nodes []aheadNode `json:"nodes"`
}

// ahead dreams what lies straight ahead of a hand. Nothing of it stays in the book.
func (s *Server) ahead(w http.ResponseWriter, r *http.Request) {
	var out aheadAnswer
	h, err := handOf(r.FormValue("hand"))
	var led []pressed
	if text := r.FormValue("before"); err == nil && text != "" && json.Unmarshal([]byte(text), &led) != nil {
		err = badPress.Refuse()
	}
	if err == nil {
		err = s.Book.Run("", time.Time{}, func(run *Run) error {
			before, err := pressesOf(led, run.Now)
			if err != nil {
				return err
			}
			d := bench.Dream{Door: run.Door, Apart: run.Dream, Stand: run.Stand}
			d.Draw = func(m *bench.Machine, now time.Time) (int, error) {
				v, err := s.show(m, now)
				out.Nodes = append(out.Nodes, aheadNode{shown: v})
				return len(out.Nodes) - 1, err
			}
			d.Lead = func(from int, e bench.Edge) {
				out.Nodes[from].Edges = append(out.Nodes[from].Edges, aheadEdge{keyName(e.Key), e.FromS, e.ToS, e.To, e.Writes})
			}
			return d.Ahead(h, before, run.Now)
		})
	}
	if err != nil {
		s.failJSON(w, err)
		return
	}
	out.Hand = r.FormValue("hand")
	b, err := json.Marshal(out)
	if err != nil {
		s.failJSON(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Write(b)
}
