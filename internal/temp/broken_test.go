package temp

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"
)

// A sound Part A of an invented station, written by hand.
const soundA = "TTAA 03121 00042 99960 05456 35004 00110 ///// ///// 92780 03257 35506\n" +
	"85470 00458 01010 70015 06560 00515 50560 20962 36020 40721 31964\n" +
	"35525 30918 46966 35035 25035 56767 35040 20180 585// 34545 15362\n" +
	"571// 35032 10620 565// 36020 88210 597// 34550 77230 35061 41216\n" +
	"31313 46708 81131="

func TestSoundReportHasNoFinding(t *testing.T) {
	r := one(t, soundA)
	if len(r.Findings) != 0 || len(r.Levels) != 14 {
		t.Fatalf("%d levels, findings %v", len(r.Levels), r.Findings)
	}
	l := r.Levels[1]
	if l.PressureHPa != 1000 || l.HeightGpm != 110 || !math.IsNaN(l.TemperatureCelsius) || !math.IsNaN(l.WindSpeed) {
		t.Errorf("level under ground: %+v", l)
	}
	if m := r.Levels[13]; m.ShearBelow != 12 || m.ShearAbove != 16 || m.WindSpeed != 61 {
		t.Errorf("maximum wind: %+v", m)
	}
}

// One group of a sound report is damaged; the finding must name it where it
// stands, and all other levels must read as before.
func TestGarbledGroupIsNamedAndTheRestKept(t *testing.T) {
	sound := one(t, soundA)
	for name, c := range map[string]struct {
		old, new     string
		line, column int
		code         string
		levels       int // that are still there and the same
	}{
		"letter in a temperature":     {"00458", "0x458", 2, 7, CodeGarbled, 13},
		"temperature of four figures": {"20962", "2096", 2, 43, CodeGarbled, 13},
		"wind beyond 36":              {"36020 40721", "39020 40721", 2, 49, CodeGarbled, 13},
		"depression 53":               {"31964", "31953", 2, 61, CodeGarbled, 13},
		"height garbled":              {"85470", "8$470", 2, 1, CodeGarbled, 13},
		"level group run together":    {"50560 20962", "5056020962", 2, 37, CodeGarbled, 13},
		"level lost":                  {"70015 06560 00515 ", "", 2, 19, CodeMissing, 13},
		"wind lost":                   {"85470 00458 01010", "85470 00458", 2, 7, CodeAmbiguous, 13},
		"temperature lost":            {"50560 20962 36020", "50560 36020", 2, 43, CodeAmbiguous, 13},
		"text in between":             {"30918", "KAPUTT 30918", 3, 7, CodeGarbled, 14},
		"no wind in the maximum":      {"77230 35061", "77230", 4, 49, CodeMissing, 13},
		"surface garbled":             {"99960", "9x960", 1, 18, CodeMissing, 13},
		"launch time":                 {"81131", "82531", 5, 13, CodeGarbled, 14},
		"hour":                        {"03121", "03321", 1, 6, CodeGarbled, 14},
		"wind figure":                 {"03121", "03127", 1, 1, CodeIndicator, 14},
		"station":                     {"00042", "0004Z", 1, 12, CodeGarbled, 14},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(soundA, c.old, c.new, 1)
			if text == soundA {
				t.Fatal("nothing was replaced")
			}
			r := one(t, text)
			if len(r.Findings) == 0 {
				t.Fatal("no finding")
			}
			f := r.Findings[0]
			if f.Line != c.line || f.Column != c.column || f.Code != c.code {
				t.Errorf("finding %v (%s), want %s at line %d, column %d", f, f.Code, c.code, c.line, c.column)
			}
			same := 0
			for _, l := range r.Levels {
				for _, s := range sound.Levels {
					if sameLevel(l, s) {
						same++
					}
				}
			}
			if same != c.levels {
				t.Errorf("%d levels are as in the sound report, want %d; findings %v", same, c.levels, r.Findings)
			}
		})
	}
}

const soundB = "TTBB 03128 00042 00960 05456 11890 01657 22/// ///// 33610 11560\n" +
	"44500 20962 55312 44166 66100 565// 21212 00960 35004 11870 01010\n" +
	"22/// ///// 33512 36019 44100 36020 41414 85500="

func TestGarbledSignificantLevels(t *testing.T) {
	sound := one(t, soundB)
	if len(sound.Findings) != 0 || len(sound.Levels) != 12 || !sound.Levels[2].Gap || fmt.Sprint(sound.Cloud) != "[85500]" {
		t.Fatalf("%d levels, findings %v", len(sound.Levels), sound.Findings)
	}
	for name, c := range map[string]struct {
		old, new     string
		line, column int
		code         string
		levels       int
	}{
		"temperature garbled":        {"11560", "1156O", 1, 60, CodeGarbled, 11},
		"temperature lost":           {"33610 11560", "33610", 1, 54, CodeMissing, 11},
		"level lost":                 {"44500 20962\n", "\n", 1, 1, "", 0},
		"level number garbled":       {"55312", "5x312", 2, 13, CodeGarbled, 11},
		"pressure rises":             {"55312", "55612", 2, 13, CodeOrder, 11},
		"temperature like a section": {"11560", "31313", 1, 1, "", 11},
		"wind level lost":            {"33512 36019 ", "", 3, 13, CodeMissing, 11},
		"no surface":                 {"00960 05456 ", "", 1, 18, CodeMissing, 11},
		"nothing after 21212":        {"21212", "21212 31313 40000", 2, 37, CodeMissing, 7},
	} {
		t.Run(name, func(t *testing.T) {
			if name == "level lost" {
				c.old, c.new, c.line, c.column, c.code, c.levels = "44500 20962 ", "", 2, 1, CodeMissing, 11
			}
			text := strings.Replace(soundB, c.old, c.new, 1)
			if text == soundB {
				t.Fatal("nothing was replaced")
			}
			r := one(t, text)
			same := 0
			for _, l := range r.Levels {
				for _, s := range sound.Levels {
					if sameLevel(l, s) {
						same++
					}
				}
			}
			if same != c.levels {
				t.Errorf("%d levels as in the sound report, want %d; %v", same, c.levels, r.Findings)
			}
			if c.code == "" {
				if len(r.Findings) != 0 {
					t.Errorf("findings %v", r.Findings)
				}
				return
			}
			if len(r.Findings) == 0 || r.Findings[0].Line != c.line || r.Findings[0].Column != c.column || r.Findings[0].Code != c.code {
				t.Errorf("findings %v, want %s at line %d, column %d", r.Findings, c.code, c.line, c.column)
			}
		})
	}
}

// -31.3 °C with a depression of 1.3 K is the group 31313.
func TestTemperatureThatLooksLikeASection(t *testing.T) {
	r := one(t, strings.Replace(soundB, "44166", "31313", 1))
	if len(r.Findings) != 0 || len(r.Levels) != 12 || r.Levels[5].TemperatureCelsius != -31.3 || r.Levels[5].DewPointDepression != 1.3 {
		t.Errorf("findings %v, level %+v", r.Findings, r.Levels[5])
	}
}

func TestStreamOfBulletins(t *testing.T) {
	stream := "\x01\r\r\n123\r\r\nUSXX01 LAKE 031200\r\r\n" + strings.ReplaceAll(soundA, "\n", "\r\r\n") + "\r\r\n\x03" +
		"\x01\r\r\n45678\r\r\nUKXX01 LAKE 031200 CCA\r\r\n" + soundB + "\n00042 stray words=\n" +
		"ZCZC 001\nUSXX02 LAKE 031200 RRB\nNIL=\nNNNN\n" +
		"USXX03 LAKE 031200\nTTAA 03121 00043 NIL=\n0312/ 00044 NIL=\nTTAA 53121 00045 99960 05456 35004 00110 05456"
	all := Parse([]byte(stream))
	if len(all) != 4 {
		t.Fatalf("%d bulletins", len(all))
	}
	heads := ""
	for _, b := range all {
		line, err := b.Heading.Format()
		if err != nil {
			t.Error(err)
		}
		heads += fmt.Sprint(line, " ", len(b.Reports), " ", b.FindingCount, "; ")
	}
	want := "USXX01 LAKE 031200 1 0; UKXX01 LAKE 031200 CCA 1 1; USXX02 LAKE 031200 RRB 0 0; USXX03 LAKE 031200 3 1; "
	if heads != want {
		t.Errorf("got %s\nwant %s", heads, want)
	}
	if f := all[1].Findings[0]; f.Code != CodeStray || f.Group != "00042 stray words" {
		t.Errorf("finding %+v", f)
	}
	last := all[3].Reports
	if !last[0].Nil || !last[1].Nil || last[1].Station != "00044" || last[1].Form != Land || last[2].Closed || last[2].WindUnit != Knots {
		t.Errorf("reports %+v", last)
	}
	if len(all[0].Reports[0].Findings) != 0 || len(all[0].Reports[0].Levels) != 14 {
		t.Errorf("report with control characters: %v", all[0].Reports[0].Findings)
	}
}

// Sonde dropped from an aircraft, and wind reports of mobile stations: heads and
// altitude groups from memory.
func TestOtherForms(t *testing.T) {
	drop := one(t, "XXAA 53128 99475 10093 18079 99012 12057 35003 00110 11056 35010 88999 77999=")
	if drop.Form != Drop || drop.LatitudeDegrees != 47.5 || drop.LongitudeDegrees != 9.3 || drop.Station != "" || len(drop.Levels) != 2 {
		t.Errorf("%+v", drop)
	}
	ship := one(t, "QQBB LKSHIP 53128 99475 10093 18079 90012 15515 17013 18012 9158/ 20030 20535 10012 21040 21545 22050 21212 11850 18025 22700 19030=")
	want := []float64{math.NaN(), 300, 600, 4500, 5400, 30000, 30300, 30600, math.NaN(), math.NaN()}
	if len(ship.Levels) != len(want) {
		t.Fatalf("%d levels: %v", len(ship.Levels), ship.Findings)
	}
	for i, l := range ship.Levels {
		if fmt.Sprint(l.HeightGpm) != fmt.Sprint(want[i]) {
			t.Errorf("level %d: %v gpm, want %v", i, l.HeightGpm, want[i])
		}
	}
	wrong := one(t, strings.Replace("QQAA LKSHIP 53128 99475 10093 18079 44385 15515 17013 18012 77140 25060 41020=", "18079", "18179", 1))
	if len(wrong.Findings) != 1 || wrong.Findings[0].Code != CodePosition {
		t.Errorf("Marsden square: %v", wrong.Findings)
	}
	if l := wrong.Levels[3]; l.PressureHPa != 140 || l.ShearBelow != 10 || l.ShearAbove != 20 || wrong.Levels[0].PressureHPa != 850 || wrong.Levels[0].Approximate {
		t.Errorf("%+v", wrong.Levels)
	}
}

func TestFileNamesAndHeadings(t *testing.T) {
	h := Heading{"USXX01", "LAKE", 3, 12, 0, "CCA"}
	n := FileName{Heading: h, Originator: "LAKE", Time: time.Date(2031, 3, 3, 12, 5, 9, 0, time.FixedZone("", 3600)), Free: "first-try_2", Type: "txt", Compression: "gz"}
	name, err := n.Format()
	if want := "A_USXX01LAKE031200CCA_C_LAKE_20310303110509_first-try_2.txt.gz"; err != nil || name != want {
		t.Fatalf("%q %v, want %q", name, err, want)
	}
	back, err := ParseFileName(name)
	if err != nil || !back.Time.Equal(n.Time) || back.Heading != h || back.Free != n.Free || back.Compression != "gz" {
		t.Errorf("%+v %v", back, err)
	}
	if n, err := ParseFileName("A_USXX01LAKE031200_C_LAKE_20310303------.bufr"); err != nil || n.Time.Hour() != 0 || n.Type != "bufr" {
		t.Errorf("%+v %v", n, err)
	}
	for _, bad := range []string{"", "notes.txt", "A_USXX01LAKE031200_C_LAKE_20310303110509", "A_USXX01LAKE391200_C_LAKE_20310303110509.txt",
		"A_USXX01LAKE031200_C_LAKE_20311303110509.txt", "A_USXX01LAKE031200_C_LAKE_20310303110509_../x.txt", "A_USXX01LAKE031200_C_LAKE_20310303110509_.txt"} {
		if n, err := ParseFileName(bad); err == nil {
			t.Errorf("%q read as %+v", bad, n)
		}
	}
	for _, bad := range []string{"", "USXX01 LAKE", "USXX1 LAKE 031200", "USXX01 LAK 031200", "USXX01 LAKE 321200", "USXX01 LAKE 032400", "USXX01 LAKE 031260",
		"USXX01 LAKE 031200 XYZ", "USXX01 LAKE 031200 RRA more", "TTAA 03121 00042"} {
		if h, err := ParseHeading(bad); err == nil {
			t.Errorf("%q read as %+v", bad, h)
		}
	}
	text, err := FormatBulletin(h, soundA+"\n", soundB+"\n")
	if all := Parse([]byte(text)); err != nil || len(all) != 1 || len(all[0].Reports) != 2 || *all[0].Heading != h {
		t.Errorf("%q %v", text, err)
	}
	none, err := EncodeNil(Message{Form: Land, Station: "00042", Day: 3, Hour: 12}, 'A')
	if err != nil || none != "TTAA 0312/ 00042 NIL=\n" {
		t.Errorf("%q %v", none, err)
	}
}

func TestLimits(t *testing.T) {
	var long strings.Builder
	long.WriteString("TTBB 03128 00042 00960 05456 ")
	label := "11"
	for range 3000 {
		long.WriteString(label + "/// ///// ")
		label = labelAfter(label)
	}
	r := one(t, strings.ReplaceAll(long.String(), "99/// ///// ", "99/// /////\n"))
	if len(r.Levels) != maxLevels || r.Findings[len(r.Findings)-1].Code != CodeCut {
		t.Errorf("%d levels, %d findings", len(r.Levels), len(r.Findings))
	}
	all := Parse([]byte(strings.Repeat("groups of no meaning\n", 30_000) + "USXX01 LAKE 031200\n" + soundA))
	if len(all) != 2 || all[0].FindingCount == 0 || len(all[1].Reports) != 1 {
		t.Errorf("%d bulletins", len(all))
	}
	all = Parse([]byte("TTAA 03121 " + strings.Repeat("9", 1<<20) + "\n" + soundA))
	if len(all) != 1 || len(all[0].Reports) != 2 || all[0].Findings[0].Code != CodeCut || len(all[0].Reports[0].Station) > 100 {
		t.Errorf("long line: %+v", all[0].Findings)
	}
	// An archive of reports without headings is longer than any bulletin.
	reports := 0
	for _, b := range Parse([]byte("USXX01 LAKE 031200\n" + strings.Repeat(soundA+"\n", 1000))) {
		if b.Heading == nil || b.FindingCount != 0 {
			t.Errorf("piece of line %d: heading %v, findings %v", b.Line, b.Heading, b.Findings)
		}
		for _, r := range b.Reports {
			if len(r.Findings) == 0 && len(r.Levels) == 14 {
				reports++
			}
		}
	}
	if reports != 1000 {
		t.Errorf("%d of 1000 reports read", reports)
	}
	if got := Parse(nil); len(got) != 0 {
		t.Errorf("nothing read as %+v", got)
	}
	gone := errors.New("disk gone")
	reader := NewReader(io.MultiReader(strings.NewReader(soundA), failing{gone}))
	for range 2 {
		if b, err := reader.Next(); !errors.Is(err, gone) || len(b.Reports) != 0 {
			t.Errorf("%v, %d reports", err, len(b.Reports))
		}
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

func FuzzParse(f *testing.F) {
	for _, s := range []string{soundA, soundB, "USXX01 LAKE 031200\n" + soundA + "\n" + soundB,
		"QQBB LKSHIP 53128 99475 10093 18079 90012 15515 17013 18012 9158/ 20030 20535 21212 11850 18025 22700 19030=",
		"PPAA 12173 00042 55385 25007 26007 26528 55340 26033 25036 25549 71281 26068=",
		"PPBB 12173 00042 80248 23008 25007 24012 8126/ 26029 25534 21212 00008 20007 10063 20510=",
		"IIAA LKSHIP 0312/ 99339 50184 40938 03961 99010 ///// ///// 88999 77999=", "TTAA 1218/ 00042 NIL="} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		r := NewReader(bytes.NewReader(text))
		for calls := 0; ; calls++ {
			if calls > len(text)+1 {
				t.Fatal("the reader does not come to an end")
			}
			b, err := r.Next()
			if err == io.EOF {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range b.Reports {
				if len(r.Levels) > maxLevels || len(r.Findings) > maxFindings || r.FindingCount < len(r.Findings) || len(r.Levels)*8 > 8*len(text) {
					t.Fatalf("%d levels, %d findings", len(r.Levels), len(r.Findings))
				}
				for _, l := range r.Levels {
					if l.Line < 1 || l.Column < 1 || l.PressureHPa <= 0 || l.PressureHPa >= 1100 || l.WindSpeed >= 500 || l.WindDirectionDegrees > 360 || l.DewPointDepression > 49 {
						t.Fatalf("level %+v", l)
					}
				}
				for _, f := range r.Findings {
					if f.Line < 1 || f.Text == "" || f.Code == "" {
						t.Fatalf("finding %+v", f)
					}
				}
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	text := []byte(strings.Repeat(soundA+"\n"+soundB+"\n", 50))
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if all := Parse(text); len(all[0].Reports) != 100 {
			b.Fatal("reports lost")
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	m := messageOf(Parse([]byte(soundA))[0].Reports[0], Parse([]byte(soundB))[0].Reports[0])
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Encode(m); err != nil {
			b.Fatal(err)
		}
	}
}
