package line

import (
	"slices"
	"strconv"
	"strings"
)

// Sheets are the sheets that a line names where it names more than one: 2026-001..030n, 14n,15p1, all unwashed.
type Sheets struct {
	Rows    []Row
	Lacking string // what they lack that are asked for; "" where the line names sheets
}

// Row is a row of pictures from First to Last, or one sheet.
type Row struct {
	Word        string // as it was typed
	Sheet       string // one sheet, as it was typed; "" for a row
	Year        int    // 0 where the line does not say it
	First, Last int
	Part        string // of every picture, n or p1; "" for the one exposed last
}

// longestRow is how many pictures a row may run over. A slip in a number would make it thousands.
const longestRow = 500

// likeSpan is a word that can only be meant for a row; a remark may hold two points, too.
var likeSpan = NewPattern(`^\d[\dnp-]*\.\.\S*$`)

var rowShape = NewPattern(`^(?:(\d{4})-)?(\d{1,6})(n|p[1-9]\d{0,3})?$`)

// SheetsOf takes the words out of a line that name its sheets, where they name more than one; otherwise it takes none, and
// the act reads them itself. lacks are the words for sheets that lack something, such as unwashed.
//
// Errors: a refusal of a row that is none, runs backwards or over more than five hundred pictures, and of a line that both
// names sheets and asks for those that lack something.
func SheetsOf(words, lacks []string) (s *Sheets, rest []string, err error) {
	s = &Sheets{}
	many := false
	for i, word := range words {
		lower := strings.ToLower(word)
		names := strings.FieldsFunc(lower, func(r rune) bool { return r == ',' })
		switch {
		case slices.Contains(lacks, lower):
			if s.Lacking != "" && s.Lacking != lower {
				return nil, nil, WrongLinef("ask for one at a time", "%s and %s are two lists", s.Lacking, lower)
			}
			s.Lacking = lower
		case lower == "all" && i+1 < len(words) && slices.Contains(lacks, strings.ToLower(words[i+1])):
		case len(names) > 0 && slices.ContainsFunc(names, likeRow) && !slices.ContainsFunc(names, notSheet):
			many = many || len(names) > 1
			for _, name := range names {
				row, err := rowOf(name)
				if err != nil {
					return nil, nil, err
				}
				many = many || row.Sheet == ""
				s.Rows = append(s.Rows, row)
			}
		default:
			rest = append(rest, word)
		}
	}
	if s.Lacking != "" && len(s.Rows) > 0 {
		return nil, nil, WrongLinef("name the sheets, or ask for all "+s.Lacking, "%s and %s are both given", s.Rows[0].Word, s.Lacking)
	}
	if s.Lacking == "" && !many && len(s.Rows) < 2 {
		return nil, words, nil
	}
	return s, rest, nil
}

// likeRow says whether a word can only be a sheet, a picture or a row of them.
func likeRow(word string) bool {
	return likeSpan.MatchString(word) || LikeSheet.MatchString(word) || LikePicture.MatchString(word)
}

// notSheet says whether a word of a list beside sheets is none. A bare number is the picture of that number there.
func notSheet(word string) bool { return !likeRow(word) && !rowShape.MatchString(word) }

// rowOf reads a row, 2026-001..030n, or one sheet.
func rowOf(word string) (Row, error) {
	from, to, isRow := strings.Cut(word, "..")
	if !isRow {
		return Row{Word: word, Sheet: word}, nil
	}
	write := "write 2026-001..030n for the negatives of those pictures, or 1..30 for the sheets exposed last"
	a, b := rowShape.FindStringSubmatch(from), rowShape.FindStringSubmatch(strings.TrimPrefix(to, "."))
	switch {
	case a == nil || b == nil:
		return Row{}, WrongLinef(write, "%s is no row of sheets", Quote(word))
	case a[3] != "" && b[3] != a[3]:
		return Row{}, WrongLinef(write, "%s begins with one kind of sheet and ends with another", Quote(word))
	case b[1] != "" && a[1] != b[1]:
		return Row{}, WrongLinef("give a row for each year", "%s runs over more than one year", Quote(word))
	}
	row := Row{Word: word, Part: b[3]}
	row.Year, _ = strconv.Atoi(a[1])
	row.First, _ = strconv.Atoi(a[2])
	row.Last, _ = strconv.Atoi(b[2])
	switch {
	case row.First < 1 || row.Last < row.First:
		return Row{}, WrongLinef(write, "%s runs backwards", Quote(word))
	case row.Last-row.First >= longestRow:
		return Row{}, WrongLinef("take fewer at a time", "%s runs over more than %d pictures", Quote(word), longestRow)
	}
	return row, nil
}
