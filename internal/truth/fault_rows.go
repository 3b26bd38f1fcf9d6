package truth

import (
	"math"
	"sort"
	"time"

	"leadline/internal/sounding"
)

// Faults of telemetry, receiver and file: whole rows. They concern the first
// receiver's file only; the radiosonde itself is sound.
func init() {
	register(
		&FaultInfo{Name: "telemetry-gap", Kind: "rows", Title: "no telemetry for a while", Unit: "s", Size: 150, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			first, last := j.rows(from, from+j.fault.Size)
			j.lose(first, last)
			j.say("no telemetry for %.0f s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "frames-repeated", Kind: "rows", Title: "the receiver writes the last frame again and again", Unit: "s", Size: 30, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			r := &j.f.Receptions[0]
			for i := range r.Columns.Series {
				if v := r.Columns.Series[i].Variable; v != sounding.Frame && v != sounding.Signal {
					j.repeatIn(r, v, from, from+j.fault.Size)
				}
			}
			j.out.Variables = nil
			j.say("one frame is written again and again for %.0f s, %.0f s after release, while time and counter go on", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "clock-jump", Kind: "rows", Title: "the receiver's clock jumps", Unit: "s", Size: 60, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			r := &j.f.Receptions[0]
			first, _ := j.rows(from, forever)
			for i := first; i < len(r.Columns.Time); i++ {
				r.Columns.Time[i] += j.fault.Size
				r.marks[i] |= 1 << j.index
			}
			j.say("times are %+.0f s off from %.0f s after release on", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "rows-out-of-order", Kind: "rows", Title: "a block of rows stands too late in the file", Unit: "rows", Size: 20, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			r := &j.f.Receptions[0]
			first, _ := j.rows(from, forever)
			n := int(j.fault.Size)
			if first+2*n > len(r.Sample) {
				first = max(0, len(r.Sample)-2*n)
			}
			var index []int
			for i := range r.Sample {
				switch {
				case i >= first && i < first+n && first+2*n <= len(r.Sample):
					index = append(index, i+n)
				case i >= first+n && i < first+2*n:
					index = append(index, i-n)
				default:
					index = append(index, i)
				}
			}
			r.gather(index)
			for i := first + n; i < min(first+2*n, len(r.marks)); i++ {
				r.marks[i] |= 1 << j.index
			}
			j.say("%d rows stand %d rows too late in the file, %.0f s after release", n, n, j.fault.At)
		}},
		&FaultInfo{Name: "repeated-times", Kind: "rows", Title: "rows are written twice", Unit: "rows", Size: 15, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			r := &j.f.Receptions[0]
			first, _ := j.rows(from, forever)
			last := min(first+int(j.fault.Size), len(r.Sample))
			var index, twice []int
			for i := range r.Sample {
				index = append(index, i)
				if i >= first && i < last {
					index = append(index, i)
					twice = append(twice, len(index)-1)
				}
			}
			r.gather(index)
			for _, i := range twice {
				r.marks[i] |= 1 << j.index
			}
			j.say("%d rows are written twice, %.0f s after release", last-first, j.fault.At)
		}},
		&FaultInfo{Name: "truncated-file", Kind: "rows", Title: "the file is cut off", Unit: "share of the ascent", Size: 0.6, apply: func(j *injection) {
			t := &j.f.Truth
			end := t.Burst
			if math.IsNaN(end) {
				end = t.Time[t.Len()-1]
			}
			from := t.Release + j.fault.Size*(end-t.Release)
			if j.fault.At > 0 {
				from = t.Release + j.fault.At
			}
			j.fault.At = math.Round(from - t.Release)
			first, _ := j.rows(from, forever)
			r := &j.f.Receptions[0]
			rest := ""
			if first < r.Columns.Len() {
				stamp := newStamper(t.Epoch)
				if r.Layout == Vehicle {
					rest = string(newStamper(t.Epoch.Add(j.f.Scenario.Zone)).european(nil, r.Columns.Time[first]))
				} else {
					rest = string(stamp.iso(nil, r.Columns.Time[first])) + ",2"
				}
			}
			j.lose(first, r.Columns.Len())
			r.broken = append(r.broken, brokenLine{row: r.Columns.Len(), text: rest, open: true})
			j.say("file cut off in the middle of a line, %.0f s after release", j.fault.At)
		}},
		&FaultInfo{Name: "garbled-rows", Kind: "rows", Title: "rows arrive garbled", Unit: "rows", Size: 12, apply: func(j *injection) {
			r := &j.f.Receptions[0]
			t := &j.f.Truth
			lost := make([]bool, t.Len())
			n := r.Columns.Len()
			garbled := map[int]string{}
			for range int(j.fault.Size) {
				i := int(j.rnd.between(0.15, 0.9) * float64(n))
				text := make([]byte, 8+int(j.rnd.between(0, 40)))
				for c := range text {
					text[c] = byte(0x21 + int(j.rnd.between(0, 94)))
				}
				text[0] = '?'
				garbled[i] = string(text)
			}
			var index []int
			var broken []brokenLine
			for i, k := range r.Sample {
				if text, bad := garbled[i]; bad {
					broken = append(broken, brokenLine{row: len(index), text: text})
					if k >= 0 {
						lost[k] = true
					}
					continue
				}
				index = append(index, i)
			}
			r.gather(index)
			r.broken = append(r.broken, broken...)
			sort.SliceStable(r.broken, func(a, b int) bool { return r.broken[a].row < r.broken[b].row })
			j.out.Lost = sounding.Spans(lost, 0)
			j.say("%d lines of the file cannot be read", len(garbled))
		}},
		&FaultInfo{Name: "date-wrong", Kind: "rows", Title: "the receiver's date is wrong", Unit: "days", Size: 1, apply: func(j *injection) {
			r := &j.f.Receptions[0]
			for i := range r.Columns.Time {
				r.Columns.Time[i] += 86400 * math.Round(j.fault.Size)
				r.marks[i] |= 1 << j.index
			}
			j.say("all times of the file are %+.0f days off", math.Round(j.fault.Size))
		}},
		&FaultInfo{Name: "earlier-flight-in-file", Kind: "rows", Title: "the file begins with an aborted flight of the same radiosonde", Unit: "m above the ground it reached", Size: 1500, apply: earlierFlight},
		&FaultInfo{Name: "foreign-radiosonde", Kind: "rows", Title: "another radiosonde is picked up for a while", Unit: "s", Size: 90, apply: func(j *injection) {
			from := j.moment(0.2, 0.7)
			r := &j.f.Receptions[0]
			first, last := j.rows(from, from+j.fault.Size)
			lost := make([]bool, j.f.Truth.Len())
			// The other one is lower, elsewhere, in other air and has its own counter.
			shift := int(j.rnd.between(0.3, 0.6) * float64(first))
			count := math.Floor(j.rnd.between(20000, 40000))
			c := &r.Columns
			old := r.clone()
			for i := first; i < last; i++ {
				k := max(0, i-shift)
				for n := range c.Series {
					s := &c.Series[n]
					x := old.Columns.Series[n].Values[k]
					switch s.Variable {
					case sounding.Frame:
						x += count
					case sounding.Latitude:
						x = quantise(x+0.71, 1e-6)
					case sounding.Longitude:
						x = quantise(x-0.48, 1e-6)
					case sounding.Temperature:
						x = j.add(sounding.Temperature, x, 1.7)
					case sounding.Signal:
						x = math.Round(old.Columns.Series[n].Values[i] - 9)
					}
					s.Values[i] = x
				}
				if r.Sample[i] >= 0 {
					lost[r.Sample[i]] = true
				}
				r.Sample[i] = -1
				r.marks[i] |= 1 << j.index
			}
			j.out.Lost = sounding.Spans(lost, 0)
			j.say("another radiosonde was picked up for %.0f s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
	)
}

// earlierFlight puts the rows of an aborted release, forty minutes or more before, in
// front of the first receiver's file.
func earlierFlight(j *injection) {
	s := j.f.Scenario
	s.Faults = []Fault{{Name: "early-burst", Size: j.fault.Size}}
	s.Release = j.f.Truth.Epoch.Add(-40 * time.Minute)
	s.Second, s.Until, s.Rest = false, UntilLost, 0
	other, err := Simulate(s, j.f.Seed+1)
	if err != nil {
		return // the scenario has been flown once
	}
	r, add := &j.f.Receptions[0], &other.Receptions[0]
	ahead := other.Truth.Epoch.Sub(j.f.Truth.Epoch).Seconds()
	n, m := add.Columns.Len(), r.Columns.Len()
	out := sounding.Columns{Time: make([]float64, 0, n+m), Line: make([]int32, n+m), Source: make([]uint8, n+m)}
	for _, t := range add.Columns.Time {
		out.Time = append(out.Time, t+ahead)
	}
	out.Time = append(out.Time, r.Columns.Time...)
	for _, series := range r.Columns.Series {
		values := append(append(make([]float64, 0, n+m), add.Columns.Values(series.Variable)...), series.Values...)
		out.Series = append(out.Series, sounding.Series{Variable: series.Variable, Values: values})
	}
	sample, marks := make([]int32, n, n+m), make([]uint64, n, n+m)
	for i := range sample {
		sample[i], marks[i] = -1, 1<<j.index
	}
	r.Columns, r.Sample, r.marks = out, append(sample, r.Sample...), append(marks, r.marks...)
	for b := range r.broken {
		r.broken[b].row += n
	}
	j.say("the file begins with an aborted flight released at %s UTC", other.Truth.UTC(other.Truth.Release).UTC().Format("15:04:05"))
}
