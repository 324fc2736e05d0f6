package parts

import (
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// The stand's measures, mm; common practice, no source.
const (
	standWall  = 2.4 // six extrusion widths of 0.4
	standSeat  = 2.0 // the lid rests on this much all round
	lidThick   = 2.4
	postRadius = 4.0
	standRoof  = 3.0
	collarWall = 3.0 // about the tenon, under the roof

	standColour = "#3A3F46"
	standRound  = 3.0 // corners
	// lidScrew is the nominal diameter of the lid's screws; they cut into
	// core holes of the tapping drill's size, diameter less pitch (0.5 for
	// M3, ISO 262 and ISO 724).
	lidScrew, lidPitch = 3.0, 0.5
	// sinkFactor is the diameter of a countersunk head by the screw's nominal one:
	// 6.3 for M3 (ISO 7721, theoretical head, from memory).
	sinkFactor, sinkStep = 2.1, 0.2
	// widestStand bounds the search for a stand that does not tip.
	widestStand = 400.0
)

// A Balance is how safely the sign stands.
type Balance struct {
	Mass   float64      // g, of all parts as they are printed, and of the strip; of the lid and the controller none
	Centre solid.Vertex // of mass, in the sign's frame; y above the ground
	Base   geom.Rect    // the stand's footprint: X across, Y towards the viewer
	Tilt   float64      // degrees, the least tilt at which it tips
	Grown  float64      // mm that the stand was enlarged by for it, the wider way
}

// addStand makes the stand and its lid, as large as they must be so that the
// sign does not tip.
func (b *builder) addStand() error {
	b.checkFoot()
	s := b.s
	bottom := b.shoulders()
	tall := b.standHeight()
	room := b.pocket()
	tenonX0, tenonX1 := b.tenonSpan(b.sign.Bore.Top)
	midX, midZ := (tenonX0+tenonX1)/2, b.tenonThick()/2
	sign, mass := b.weigh()
	// Sides of the footprint, measured from the tenon's middle.
	needX := max(room.X/2, (tenonX1-tenonX0)/2+s.Clearance) + standSeat + standWall
	needZ := max(room.Y/2, b.tenonThick()/2+s.Clearance) + standSeat + standWall
	side := [4]float64{needX, needX, needZ, needZ} // left, right, rear, front
	for {
		stand := b.standSolid(side, tall)
		pose := Pose{Flip: true, Stand: true, Move: solid.Vertex{X: midX, Y: bottom, Z: midZ}}
		whole, centre := addMass(mass, sign, b.printed(stand), pose.Apply(stand.Centre()))
		h := centre.Y - (bottom - tall)
		gaps := [4]float64{
			centre.X - (midX - side[0]),
			midX + side[1] - centre.X,
			centre.Z - (midZ - side[2]),
			midZ + side[3] - centre.Z,
		}
		tilt, worst := 90.0, 0
		for k, g := range gaps {
			if t := geom.Degrees(math.Atan2(g, h)); t < tilt {
				tilt, worst = t, k
			}
		}
		if tilt >= s.Tilt {
			base := geom.Rect{Min: geom.Pt(midX-side[0], midZ-side[2]), Max: geom.Pt(midX+side[1], midZ+side[3])}
			b.sign.Balance = &Balance{
				Mass:   whole,
				Centre: solid.Vertex{X: centre.X, Y: h, Z: centre.Z},
				Base:   base,
				Tilt:   tilt,
				Grown:  max(side[0]-needX, side[1]-needX, side[2]-needZ, side[3]-needZ),
			}
			b.placeStand(Part{Name: NameStand, Colour: standColour, Solid: stand, Pose: pose}, side, tall)
			return nil
		}
		// The stand's own mass lowers the centre as it grows, so part of what
		// is missing will do.
		side[worst] += max(1, math.Floor(0.5*(h*math.Tan(geom.Radians(s.Tilt))-gaps[worst])))
		if side[0]+side[1] > widestStand || side[2]+side[3] > widestStand {
			return fmt.Errorf(
				"no stand up to %g mm wide keeps the sign from tipping at %g degrees; its centre of mass is %.0f "+
					"mm to the side of the foot and %.0f mm above the ground; --foot-at puts the foot elsewhere, --hold keyhole "+
					"or ears hangs it on a wall, --tilt asks for less",
				widestStand, s.Tilt, math.Abs(centre.X-midX), h,
			)
		}
	}
}

// shoulders is the height of the foot's shoulders, on the stand's top.
func (b *builder) shoulders() float64 { return b.sign.Bore.From.Y + b.s.Tenon }

// pocket is the least room for the controller between the lid's posts.
func (b *builder) pocket() Size {
	c := b.s.Controller
	return Size{c.X + 2*b.s.Clearance + 4*postRadius, c.Y + 2*b.s.Clearance, max(c.Z, b.s.Exit.High) + 2}
}

func (b *builder) standHeight() float64 { return b.s.Tenon + b.pocket().Z + lidThick }

// hollow is the stand's inside, about the tenon's middle.
func hollow(side [4]float64) geom.Rect {
	in := standSeat + standWall
	return geom.Rect{Min: geom.Pt(in-side[0], in-side[2]), Max: geom.Pt(side[1]-in, side[3]-in)}
}

// posts are the middles of the four posts that the lid is screwed to.
func posts(in geom.Rect) []geom.Point {
	a, b := in.Min.Add(geom.Pt(postRadius, postRadius)), in.Max.Sub(geom.Pt(postRadius, postRadius))
	return []geom.Point{a, geom.Pt(b.X, a.Y), b, geom.Pt(a.X, b.Y)}
}

// standSolid is the stand as it is printed: top down, so that its hollow is
// open upwards, about the tenon's middle, y towards the viewer.
func (b *builder) standSolid(side [4]float64, tall float64) solid.Solid {
	s := b.s
	out := solid.RoundBox(-side[0], -side[2], side[1], side[3], standRound)
	x0, x1 := b.tenonSpan(b.sign.Bore.Top)
	half, deep := (x1-x0)/2+s.Clearance, b.tenonThick()/2+s.Clearance
	mortise := solid.Box(-half, -deep, half, deep)
	in := hollow(side)
	pocket := solid.Box(in.Min.X, in.Min.Y, in.Max.X, in.Max.Y)
	collar := mortise.GrowSquare(collarWall)
	var postPlan, cores solid.Plan
	for _, p := range posts(in) {
		// A post reaches into the pocket's corner, so that it is part of the
		// walls.
		far := geom.Pt(in.Min.X-0.5, in.Min.Y-0.5)
		if p.X > in.Min.Lerp(in.Max, 0.5).X {
			far.X = in.Max.X + 0.5
		}
		if p.Y > in.Min.Lerp(in.Max, 0.5).Y {
			far.Y = in.Max.Y + 0.5
		}
		postPlan = postPlan.Or(solid.Disc(p, postRadius)).Or(solid.Box(p.X, p.Y, far.X, far.Y))
		cores = cores.Or(solid.Disc(p, (lidScrew-lidPitch)/2))
	}
	block := solid.Solid{{Z0: 0, Z1: tall, Plan: out}}
	block = block.Cut(standRoof, s.Tenon, pocket.Less(collar).Less(postPlan))
	block = block.Cut(0, s.Tenon, mortise).Relieved(s.Relief, mortise.GrowSquare(1))
	// The tenon's end must stay free even where a post would cross it.
	block = block.Cut(s.Tenon, tall-lidThick, pocket.Less(postPlan.Less(mortise)).Or(cores.Less(mortise)))
	block = block.Cut(tall-lidThick, tall, pocket.GrowSquare(standSeat))
	// The cable's way out through the rear wall, open at the bottom.
	mid := (in.Min.X + in.Max.X) / 2
	exit := solid.Box(mid-s.Exit.Wide/2, -side[2]-1, mid+s.Exit.Wide/2, in.Min.Y+1)
	return block.Cut(tall-lidThick-s.Exit.High, tall, exit)
}

// placeStand adds the stand and its lid.
func (b *builder) placeStand(stand Part, side [4]float64, tall float64) {
	b.add(stand)
	in := hollow(side)
	fit := standSeat - b.s.Clearance
	lid := solid.Box(in.Min.X-fit, in.Min.Y-fit, in.Max.X+fit, in.Max.Y+fit)
	block := solid.Solid{{Z0: 0, Z1: lidThick, Plan: lid.Upended()}}
	block = block.Relieved(b.s.Relief, block[0].Plan)
	for _, p := range posts(in) {
		block = sunk(block, geom.Pt(p.X, -p.Y), lidScrew)
	}
	// Printed as it lies seen from below: stood up, its y would point to the
	// rear, so it is mirrored.
	at := stand.Pose.Move
	b.add(
		Part{
			Name:   NameLid,
			Colour: standColour,
			Solid:  block,
			Pose:   Pose{Stand: true, Move: solid.Vertex{X: at.X, Y: at.Y - tall, Z: at.Z}},
		},
	)
	if g := b.sign.Balance.Grown; g > 0 {
		b.note(
			"the stand was made up to %.0f mm wider on one side so that the sign tips only beyond %g degrees", g,
			b.s.Tilt,
		)
	}
}

// sunk cuts a screw's hole into a plate, sunk from z = 0 so that a countersunk head
// lies flush: a cone of 90 degrees, in steps as deep as they are wide.
func sunk(plate solid.Solid, at geom.Point, screw float64) solid.Solid {
	hole := ClearanceHole(screw) / 2
	plate = plate.Cut(0, lidThick, solid.Disc(at, hole))
	head := sinkFactor * screw / 2
	for k := 0; head-float64(k)*sinkStep > hole; k++ {
		z := func(k int) float64 { return float64(k) * sinkStep }
		plate = plate.Cut(z(k), z(k+1), solid.Disc(at, head-z(k)))
	}
	return plate
}

// printed is the mass, g, of a part as it is printed; it is spread as the part's volume is.
func (b *builder) printed(p solid.Solid) float64 {
	return b.s.Grams(b.s.Laid(p.Volume(), p.Surface()))
}

// stripHeight is how far strip's middle is above the slot's floor, mm; common practice,
// no source.
const stripHeight = 1.5

// weigh returns the centre and mass (g) of what is on the stand: the parts as they are
// printed, and the strip.
func (b *builder) weigh() (solid.Vertex, float64) {
	var c solid.Vertex
	mass := 0.0
	for _, p := range b.sign.Parts {
		mass, c = addMass(mass, c, b.printed(p.Solid), p.Pose.Apply(p.Solid.Centre()))
	}
	for _, l := range b.lines {
		for i := 1; i < len(l); i++ {
			mid := l[i-1].Lerp(l[i], 0.5)
			at := solid.Vertex{X: mid.X, Y: mid.Y, Z: b.floor() + stripHeight}
			mass, c = addMass(mass, c, l[i-1].Dist(l[i])/1000*b.s.StripMass, at)
		}
	}
	return c, mass
}

// addMass is the mass and centre of two masses together.
func addMass(m float64, c solid.Vertex, n float64, d solid.Vertex) (float64, solid.Vertex) {
	if m+n == 0 {
		return 0, c
	}
	k, l := m/(m+n), n/(m+n)
	return m + n, solid.Vertex{X: k*c.X + l*d.X, Y: k*c.Y + l*d.Y, Z: k*c.Z + l*d.Z}
}
