package server

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"math/big"
)

// words are the first halves of device names: short, plain, told apart when
// called across a room, and none a word of the trade or a name of a place.
var words = [...]string{
	"acorn", "adder", "alder", "amber", "anvil", "arrow", "aspen", "auger", "awl",
	"badger", "basalt", "basket", "beacon", "beaver", "beech", "beetle", "bellows", "birch", "bison", "boulder", "bramble", "brook", "buckle", "burdock", "button",
	"cairn", "candle", "canvas", "cedar", "chisel", "cinder", "clover", "comet", "compass", "copse", "coral", "cricket", "crow", "cuckoo", "curlew", "cypress",
	"daisy", "dolphin", "donkey", "dove", "dragonfly", "drift", "dune",
	"eagle", "easel", "elm", "ember", "ermine",
	"falcon", "feather", "fern", "ferret", "finch", "flint", "fox", "frost",
	"gannet", "garnet", "gazelle", "glacier", "goose", "gorse", "granite", "grouse", "gull",
	"hammer", "hare", "harrow", "hawk", "hazel", "heath", "hedge", "hemlock", "heron", "hinge", "holly", "hornet",
	"ibis", "iris", "island", "ivy",
	"jackdaw", "jasper", "jay",
	"kestrel", "kettle", "kite", "knapweed",
	"ladder", "lantern", "larch", "lark", "lathe", "lichen", "lilac", "linden", "linnet", "lizard", "lynx",
	"magpie", "mallet", "maple", "marble", "marten", "meadow", "mole", "moss", "moth",
	"nettle", "newt", "nuthatch",
	"oak", "orchid", "osprey", "otter", "owl",
	"pebble", "pelican", "petrel", "pewter", "pine", "plover", "poplar", "puffin",
	"quail", "quartz", "quill",
	"rabbit", "raven", "reed", "ribbon", "robin", "rook", "rowan",
	"saddle", "salmon", "sandal", "sedge", "shuttle", "siskin", "slate", "snail", "sparrow", "spindle", "spruce", "starling", "stork", "swallow", "swift",
	"tansy", "teal", "tern", "thimble", "thistle", "thrush", "timber", "toad", "trowel", "tulip",
	"urchin", "vale", "viper", "vole",
	"walnut", "warbler", "weasel", "willow", "wren",
	"yarrow", "yew",
}

// chooseName draws a name that the book does not know: two digits while
// there are such, three after that.
func (s *Server) chooseName(ctx context.Context) (string, error) {
	const tries = 40
	for i := range 2 * tries {
		low, high := 10, 100
		if i >= tries {
			low, high = 100, 1000
		}
		word, err := draw(s.random, len(words))
		if err != nil {
			return "", err
		}
		number, err := draw(s.random, high-low)
		if err != nil {
			return "", err
		}
		name := fmt.Sprintf("%s%d", words[word], low+number)
		if used, err := s.book.NameUsed(ctx, name); err != nil || !used {
			return name, err
		}
	}
	return "", errors.New("no free name for a device was found")
}

// draw is a number from 0 to n-1, each as likely.
func draw(random io.Reader, n int) (int, error) {
	v, err := rand.Int(random, big.NewInt(int64(n)))
	if err != nil {
		return 0, err
	}
	return int(v.Int64()), nil
}
