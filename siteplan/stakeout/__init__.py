"""A plan and today's height of instrument in; rods, cuts and stakes out."""
