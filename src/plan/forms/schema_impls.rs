//! The schemas of the forms with hand-written readers.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

impl JsonSchema for super::OrderForm {
    fn schema_name() -> Cow<'static, str> {
        "OrderLine".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let fields = generator.subschema_for::<super::CountForm>();
        json_schema!({ "oneOf": [
            { "type": "string", "description": "`COUNT x STICKER`." },
            fields
        ] })
    }
}

impl JsonSchema for super::ModuleForm {
    fn schema_name() -> Cow<'static, str> {
        "Module".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let fields = generator.subschema_for::<super::FieldsForm>();
        json_schema!({ "oneOf": [{ "type": "string", "description": "The label on the sticker." }, fields] })
    }
}
