package check

import "leadline/internal/sun"

// daylight tells whether the sun stood above the horizon at release; true where place
// or time are not known, so that the wider limits hold.
func (in *input) daylight() bool {
	r := in.ctx.Record
	if r == nil || !r.Site.Latitude.Set() || !r.Site.Longitude.Set() || !in.ctx.Events.Release.Found {
		return true
	}
	elevation, _ := sun.PositionAt(in.ctx.Events.Release.UTC, r.Site.Latitude.Value(), r.Site.Longitude.Value())
	return !(elevation < 0)
}
