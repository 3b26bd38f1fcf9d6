package api

import (
	"encoding/json"
	"net/http"
	"slices"

	"leadline/internal/comparison"
	"leadline/internal/workbench"
)

// VersionRequest asks for one version of a flight.
type VersionRequest struct {
	Version workbench.FlightVersion `json:"version"`
}

// CompareRequest asks for B minus A.
type CompareRequest struct {
	A      workbench.FlightVersion `json:"a"`
	B      workbench.FlightVersion `json:"b"`
	Axis   comparison.Axis         `json:"axis,omitempty"`       // pressure, height or time; "" is pressure
	Bounds []float64               `json:"bounds_hpa,omitempty"` // of the layers, falling
	Gap    float64                 `json:"gap_s,omitempty"`
}

// TodayRequest names flights whose lines another version of the program made; none: all.
type TodayRequest struct {
	Flights []string `json:"flights"`
}

func (s *server) versionRoutes(mux *http.ServeMux) {
	mux.HandleFunc("POST /api/versions/flight", s.versionFlight)
	mux.HandleFunc("POST /api/versions/columns", s.versionColumns)
	mux.HandleFunc("POST /api/compare", s.compareVersions)
	mux.HandleFunc("POST /api/compare/differences", s.differences)
	mux.HandleFunc("POST /api/today/effects", s.todayEffects)
	mux.HandleFunc("POST /api/today", s.recompute)
	mux.HandleFunc("GET /api/settings/text", s.settingsText)
	mux.HandleFunc("POST /api/settings/explain", s.explainSettings)
	mux.HandleFunc("GET /api/flights/{id}/sheet", s.flightSheet)
}

// version reads a request for a version and computes it.
func (s *server) version(w http.ResponseWriter, r *http.Request) (q VersionRequest, o *workbench.Outcome, revision int, err error) {
	if err = readUpTo(w, r, &q, maxSettingsBody); err != nil {
		return
	}
	if err = q.Version.Validate(); err != nil {
		err = unfit(err)
		return
	}
	o, revision, err = s.bench.OpenVersion(r.Context(), q.Version)
	return q, o, revision, err
}

func (s *server) versionFlight(w http.ResponseWriter, r *http.Request) {
	q, o, revision, err := s.version(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, flightOf(q.Version.Flight, o, revision))
}

func (s *server) versionColumns(w http.ResponseWriter, r *http.Request) {
	_, o, revision, err := s.version(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.sendColumns(w, o, revision)
}

// compared reads a request for a comparison and makes it.
func (s *server) compared(w http.ResponseWriter, r *http.Request) (workbench.VersionComparison, error) {
	var q CompareRequest
	if err := readUpTo(w, r, &q, 2*maxSettingsBody); err != nil {
		return workbench.VersionComparison{}, err
	}
	o := comparison.Options{Axis: q.Axis, Gap: q.Gap, Bounds: q.Bounds}
	for _, check := range []func() error{q.A.Validate, q.B.Validate, o.Validate} {
		if err := check(); err != nil {
			return workbench.VersionComparison{}, unfit(err)
		}
	}
	return s.bench.CompareVersions(r.Context(), q.A, q.B, o)
}

func (s *server) compareVersions(w http.ResponseWriter, r *http.Request) {
	c, err := s.compared(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	if c.Effect != nil {
		c.Effect.Variables = list(c.Effect.Variables)
	}
	s.reply(w, http.StatusOK, c)
}

// differences sends B minus A at every row of A, one column a variable, in the layout of a
// flight's columns.
func (s *server) differences(w http.ResponseWriter, r *http.Request) {
	c, err := s.compared(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	b := &block{}
	for _, v := range c.Result.Variables {
		b.rows = len(v.Differences)
	}
	for _, v := range c.Result.Variables {
		b.floats(v.Variable.String(), "difference", false, v.Differences)
	}
	header, err := json.Marshal(ColumnsHeader{Rows: b.rows, Revision: c.A.Revision, Columns: slices.Clip(list(b.columns))})
	if err != nil {
		s.failed(w, err)
		return
	}
	s.sendBlock(w, b.bytes(header))
}

// todayEffects lists what the methods of today make of lines that another version made.
func (s *server) todayEffects(w http.ResponseWriter, r *http.Request) { s.today(w, r, false) }

// recompute makes those lines anew.
func (s *server) recompute(w http.ResponseWriter, r *http.Request) { s.today(w, r, true) }

func (s *server) today(w http.ResponseWriter, r *http.Request, keep bool) {
	var q TodayRequest
	if err := readUpTo(w, r, &q, maxGroupBody); err != nil {
		s.failed(w, err)
		return
	}
	rows, err := s.bench.Outdated(r.Context())
	if err != nil {
		s.failed(w, err)
		return
	}
	if len(q.Flights) > 0 {
		rows = slices.DeleteFunc(rows, func(x workbench.Row) bool { return !slices.Contains(q.Flights, x.ID) })
	}
	out := s.lines(w)
	work := s.bench.PreviewToday
	if keep {
		work = s.bench.Recompute
	}
	c := Change{}
	err = work(r.Context(), rows, func(e workbench.RowEffect) error {
		c.Moved = append(c.Moved, workbench.Seen{Flight: e.Flight, Revision: e.Revision})
		return out.send(GroupLine{Today: &e})
	})
	if keep && len(c.Moved) > 0 {
		s.hub.tell(c)
	}
	out.end(GroupLine{}, err)
}
