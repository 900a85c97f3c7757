//! Lists, and tables whose keys the writer chooses.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator};

use super::{At, Decode, Found, Node};

impl<T: Decode> Decode for Vec<T> {
    fn expected() -> String {
        format!("a list, each item {}", T::expected())
    }

    fn stand_in() -> Self {
        Vec::new()
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        let Some(array) = node.value.as_array() else {
            if node.value.is_table() {
                let fix = format!("write [[{}]] with double brackets, or a list [{{ ... }}]", node.key);
                found.bad(node, &Self::expected(), fix);
                return Self::stand_in();
            }
            return found.wrong::<Self>(node);
        };
        let mut items = Vec::with_capacity(array.len());
        for item in array.iter() {
            let item = Node { key: node.key, value: item.get_ref(), place: found.place(item.span()) };
            items.push(T::decode(item, found));
        }
        items
    }
}

impl<T: Decode, const N: usize> Decode for [T; N]
where
    [T; N]: JsonSchema,
{
    fn expected() -> String {
        format!("a list of {N}, each item {}", T::expected())
    }

    fn stand_in() -> Self {
        std::array::from_fn(|_| T::stand_in())
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        let items = match node.value.as_array() {
            Some(array) if array.len() == N => Vec::<T>::decode(node, found),
            Some(_) | None => return found.wrong::<Self>(node),
        };
        items.try_into().unwrap_or_else(|_| Self::stand_in())
    }
}

/// A list that may not be empty.
#[derive(Clone, Debug)]
pub struct AtLeastOne<T>(pub Vec<T>);

impl<T: Decode> Decode for AtLeastOne<T> {
    fn expected() -> String {
        format!("a list of at least one, each item {}", T::expected())
    }

    fn stand_in() -> Self {
        AtLeastOne(Vec::new())
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        if node.value.as_array().is_some_and(|items| items.iter().next().is_none()) {
            return found.wrong(node);
        }
        AtLeastOne(Vec::decode(node, found))
    }
}

impl<T: JsonSchema> JsonSchema for AtLeastOne<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("AtLeastOne_{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let item = generator.subschema_for::<T>();
        schemars::json_schema!({ "type": "array", "items": item, "minItems": 1 })
    }
}

/// Keys of the writer's own choosing, in the order written.
#[derive(Clone, Debug)]
pub struct Map<T>(pub Vec<(At<String>, T)>);

impl<T: Decode> Decode for Map<T> {
    fn expected() -> String {
        format!("a table of names, each with {}", T::expected())
    }

    fn stand_in() -> Self {
        Map(Vec::new())
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        let Some(table) = node.value.as_table() else { return found.wrong::<Self>(node) };
        let mut entries = Vec::with_capacity(table.len());
        for (key, value) in table {
            let name = At { value: key.get_ref().to_string(), place: found.place(key.span()) };
            let value = Node { key: key.get_ref(), value: value.get_ref(), place: found.place(value.span()) };
            entries.push((name, T::decode(value, found)));
        }
        entries.sort_by_key(|(name, _)| name.place.start);
        Map(entries)
    }
}

impl<T: JsonSchema> JsonSchema for Map<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("Map_of_{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let item = generator.subschema_for::<T>();
        schemars::json_schema!({ "type": "object", "additionalProperties": item })
    }
}
