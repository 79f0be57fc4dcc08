//! Kinds of appliance: the department's own.

use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::quantity::{ApplianceCoefficient, Flow, Pressure};
use longlay_records::equipment::{ApplianceType, Origin};
use longlay_records::text::{MAX_NAME_CHARS, MAX_NOTE_CHARS};

use crate::column::{Column, Form};
use crate::fields::Fields;
use crate::kind::{Exchanged, Kind};
use crate::value::Value;

const COLUMNS: &[Column] = &[
    Column::needed("id", Form::Text, "The department's id for it", "wye-a"),
    Column::needed("name", Form::Text, "What the department calls it", "Gated wye"),
    Column::maybe(
        "loss_coefficient",
        Form::Number,
        "k of the flow-squared loss, psi per (100 gpm)²; or the next two columns",
        "0.4",
    ),
    Column::maybe("fixed_loss_psi", Form::Number, "A loss that stands at and above a flow", "10"),
    Column::maybe("at_or_above_gpm", Form::Number, "The flow from which fixed_loss_psi stands", "350"),
    Column::maybe("max_operating_psi", Form::Number, "Marked operating pressure", "300"),
    Column::needed("source", Form::Text, "Where the loss comes from", "our test of 2026"),
];

impl Exchanged for ApplianceType {
    const KIND: Kind = Kind::Appliances;
    const COLUMNS: &'static [Column] = COLUMNS;

    fn values(&self) -> Vec<Value> {
        let (squared, step) = match self.loss {
            ApplianceLoss::Squared(coefficient) => (Some(coefficient), None),
            ApplianceLoss::Step { fixed, at_or_above } => (None, Some((fixed, at_or_above))),
        };
        vec![
            Value::id(&self.id),
            Value::text(&self.name),
            Value::maybe(squared, |loss| Value::Number(loss.psi_per_100gpm2())),
            Value::maybe(step, |(fixed, _)| Value::Number(fixed.psi())),
            Value::maybe(step, |(_, at_or_above)| Value::Number(at_or_above.gpm())),
            Value::maybe(self.max_operating, |most| Value::Number(most.psi())),
            Value::text(&self.source),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("id");
        let name = fields.needed_text("name", MAX_NAME_CHARS);
        let loss = loss(fields);
        let max_operating = fields.number("max_operating_psi", Pressure::from_psi);
        let source = fields.needed_text("source", MAX_NOTE_CHARS);
        Some(Self {
            id: id?,
            name: name?,
            loss: loss?,
            loss_range: None,
            max_operating: max_operating?,
            source: source?,
            origin: Origin::Department,
        })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }
}

fn loss(fields: &mut Fields<'_>) -> Option<ApplianceLoss> {
    let squared = fields.number("loss_coefficient", ApplianceCoefficient::from_psi_per_100gpm2);
    let fixed = fields.number("fixed_loss_psi", Pressure::from_psi);
    let at_or_above = fields.number("at_or_above_gpm", Flow::from_gpm);
    match (squared?, fixed?, at_or_above?) {
        (Some(coefficient), None, None) => Some(ApplianceLoss::Squared(coefficient)),
        (None, Some(fixed), Some(at_or_above)) => Some(ApplianceLoss::Step { fixed, at_or_above }),
        (None, Some(_), None) => fields.refuse("at_or_above_gpm", "required", "goes with fixed_loss_psi"),
        (None, None, Some(_)) => fields.refuse("fixed_loss_psi", "required", "goes with at_or_above_gpm"),
        _ => {
            fields.refuse("loss_coefficient", "exactly_one_of", "give exactly one of loss_coefficient, fixed_loss_psi")
        }
    }
}
