package parallel_test

import (
	"errors"
	"fmt"

	"inkchannel/geom/parallel"
)

func ExampleEach() {
	squares := make([]int, 5)
	parallel.Each(len(squares), func(i int) { squares[i] = i * i })
	fmt.Println(squares)
	// Output: [0 1 4 9 16]
}

func ExampleTry() {
	err := parallel.Try(9, func(i int) error {
		if i%4 == 3 {
			return errors.New(fmt.Sprint("no ", i))
		}
		return nil
	})
	fmt.Println(err)
	// Output: no 3
}
