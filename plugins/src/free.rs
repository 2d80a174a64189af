//! What a shop does that puts nothing against the section: written with the built-in hold "free".

use ringwright_solver::scheme::Recipe;

/// Common practice, no source: what these ways of holding are.
pub const FREE: &[Recipe] = &[Recipe {
    name: "glue or magnet on a face",
    about: "the part lies on one end and nothing presses on its wall: hold = \"free\"; a face that is pulled flat, glue that shrinks and grip are left out",
    example: include_str!("../examples/recipes/glue-or-magnet.toml"),
}];
