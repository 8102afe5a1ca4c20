// Package routing finds the chains that carry a message from one station to
// another: the k best, those that no other beats, and the best two that share no
// relay; who can reach whom; what to try when a hop goes silent.
//
// A chain is simple, repeats no station, and takes each of its hops on one channel;
// the choice of channel is part of it. Every chain is evaluated exactly by package
// delivery: its chance by the deadline, its times over all tries, its airtime.
// Chains compare by rounded figures (a tenth of a point, a slot, a frame), then fewer
// relays, then call signs in order, then channels in plan order, so equal input gives
// equal output.
//
// # Search
//
// A search goes depth first through the hops, the most promising first, and
// shares what chains begin with (stem). It leaves out a branch only when each of its
// goals (best, unbeaten, pair, …) shows that nothing it can become matters; Proven
// says that no search was cut short by its limit of effort. What a branch can become
// is bounded from above in two steps:
//
//   - Without regard to time (bounds.unhurried): the branch's exact chance to leave its
//     last station by the deadline, times the best product of hop chances to the
//     destination, for each node of the net-wide deviate. The chance of a hop is
//     bounded by an easier exchange that can be tabulated (ceiling), for stretches of
//     time that get finer, and with last hops looked at exactly, in searches that try
//     much (bounds.sharpen).
//   - With regard to time (bound): V(j, v, t), the largest chance that a message
//     leaving station v from slot t on arrives within j more hops, where every station
//     may choose anew at every time; in buckets of slots, each taken at its best. Tables
//     cost the distributions of many hops, so they are made only once a search has
//     tried enough to be worth one, and only for the deadline, or the 50 % time to be
//     beaten, that is asked about.
//
// Both are admissible: they let more happen than any chain can do. Tests hold the
// answers to enumeration over every simple chain and choice of channels.
package routing
