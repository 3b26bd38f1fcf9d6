package ingest

import (
	"errors"
	"time"
)

// Bounds of what one source may be.
const (
	maxLine      = 1 << 20
	maxUnpacked  = 1 << 30
	maxRatio     = 200      // unpacked bytes a packed one, looked at beyond ratioFloor
	ratioFloor   = 64 << 20 // telemetry that repeats itself packs very well; a bomb is large as well
	maxRows      = 2_000_000
	maxColumns   = 512
	maxValues    = 32_000_000
	maxSoundings = 256
	maxPreamble  = 10_000 // lines
	maxItems     = 2000   // header items that are kept
	maxText      = 256    // bytes of one text field that are kept
)

// Options are what the caller knows and the source may not say. The zero value is
// nothing known.
type Options struct {
	Date     time.Time // day (UTC, or in Zone) for times of day, instead of what the source says
	Base     time.Time // instant of elapsed time zero, instead of what the source says
	Declared time.Time // declared release of the launch record: start of elapsed time and day of times of day where nothing else says it
	Near     time.Time // an instant within half a day of the first row, such as the nominal hour: the day where nothing else says it
	Zone     string    // IANA zone of the source's clock, instead of the recipe's
	Nominal  time.Time // of several soundings in a source only the one of this nominal hour
	Sounding int       // of several soundings in a source only the one of this number, from 1; 0 all
	MaxRows  int       // instead of 2,000,000
}

func (o *Options) rows() int {
	if o.MaxRows > 0 {
		return o.MaxRows
	}
	return maxRows
}

// Errors a caller may want to answer with a question.
var (
	// ErrNoDate: the source gives times of day and nobody says of which day.
	ErrNoDate = errors.New("no date")
	// ErrNoBase: the source gives elapsed time and nobody says since when.
	ErrNoBase = errors.New("no instant of elapsed time zero")
	// ErrNoRows: the source holds no row that could be used.
	ErrNoRows = errors.New("no usable row")
	// ErrSeveral: the source holds several soundings and Read returns one.
	ErrSeveral = errors.New("several soundings")
)
