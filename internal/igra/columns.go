package igra

// span is a fixed field: first and last column, counted from 1, both included,
// as the archive's format description counts them.
type span struct {
	name        string
	first, last int
}

func (s span) of(line []byte) []byte {
	if s.first > len(line) {
		return nil
	}
	return line[s.first-1 : min(s.last, len(line))]
}

// Header fields that the main and the derived layout share, then those of the main one.
var (
	fieldMark    = span{"HEADREC", 1, 1}
	fieldID      = span{"ID", 2, 12}
	fieldYear    = span{"YEAR", 14, 17}
	fieldMonth   = span{"MONTH", 19, 20}
	fieldDay     = span{"DAY", 22, 23}
	fieldHour    = span{"HOUR", 25, 26}
	fieldRelease = span{"RELTIME", 28, 31}
	fieldLevels  = span{"NUMLEV", 33, 36}

	fieldPressureSource = span{"P_SRC", 38, 45}
	fieldOtherSource    = span{"NP_SRC", 47, 54}
	fieldLatitude       = span{"LAT", 56, 62}
	fieldLongitude      = span{"LON", 64, 71}

	mainHeaderFields = []span{
		fieldMark, fieldID, fieldYear, fieldMonth, fieldDay, fieldHour, fieldRelease, fieldLevels,
		fieldPressureSource, fieldOtherSource, fieldLatitude, fieldLongitude,
	}
)

// Level fields of the main layout.
var (
	fieldMajorType       = span{"LVLTYP1", 1, 1}
	fieldMinorType       = span{"LVLTYP2", 2, 2}
	fieldElapsed         = span{"ETIME", 4, 8}
	fieldPressure        = span{"PRESS", 10, 15}
	fieldPressureFlag    = span{"PFLAG", 16, 16}
	fieldHeight          = span{"GPH", 17, 21}
	fieldHeightFlag      = span{"ZFLAG", 22, 22}
	fieldTemperature     = span{"TEMP", 23, 27}
	fieldTemperatureFlag = span{"TFLAG", 28, 28}
	fieldHumidity        = span{"RH", 29, 33}
	fieldDepression      = span{"DPDP", 35, 39}
	fieldWindDirection   = span{"WDIR", 41, 45}
	fieldWindSpeed       = span{"WSPD", 47, 51}

	mainLevelFields = []span{
		fieldMajorType, fieldMinorType, fieldElapsed, fieldPressure, fieldPressureFlag, fieldHeight,
		fieldHeightFlag, fieldTemperature, fieldTemperatureFlag, fieldHumidity, fieldDepression,
		fieldWindDirection, fieldWindSpeed,
	}
)

const (
	mainHeaderWidth    = 71
	mainLevelWidth     = 51
	derivedHeaderWidth = 157
	derivedLevelWidth  = 151
)

// Header items of the derived layout after NUMLEV, in file order: twenty fields of six columns.
var derivedHeaderFields = []span{
	{"PW", 38, 43},
	{"INVPRESS", 44, 49}, {"INVHGT", 50, 55}, {"INVTEMPDIF", 56, 61},
	{"MIXPRESS", 62, 67}, {"MIXHGT", 68, 73},
	{"FRZPRESS", 74, 79}, {"FRZHGT", 80, 85},
	{"LCLPRESS", 86, 91}, {"LCLHGT", 92, 97},
	{"LFCPRESS", 98, 103}, {"LFCHGT", 104, 109},
	{"LNBPRESS", 110, 115}, {"LNBHGT", 116, 121},
	{"LI", 122, 127}, {"SI", 128, 133}, {"KI", 134, 139}, {"TTI", 140, 145},
	{"CAPE", 146, 151}, {"CIN", 152, 157},
}

// Level fields of the derived layout, in file order: nineteen fields of seven columns, one blank between.
var derivedLevelFields = []span{
	{"PRESS", 1, 7}, {"REPGPH", 9, 15}, {"CALCGPH", 17, 23},
	{"TEMP", 25, 31}, {"TEMPGRAD", 33, 39},
	{"PTEMP", 41, 47}, {"PTEMPGRAD", 49, 55},
	{"VTEMP", 57, 63}, {"VPTEMP", 65, 71},
	{"VAPPRESS", 73, 79}, {"SATVAP", 81, 87},
	{"REPRH", 89, 95}, {"CALCRH", 97, 103}, {"RHGRAD", 105, 111},
	{"UWND", 113, 119}, {"UWDGRAD", 121, 127},
	{"VWND", 129, 135}, {"VWNDGRAD", 137, 143},
	{"N", 145, 151},
}
