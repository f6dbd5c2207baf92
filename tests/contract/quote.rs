//! A quoting system with the client that was generated for Rust: prices the operations of a measured block, and shows why a
//! wrong request is refused.
//!
//!     quote <address> <file with a request>

use blockwright_client::apis::builds_api::builds_operations;
use blockwright_client::apis::{Error, configuration::Configuration};
use blockwright_client::models::{LengthInput, OperationsName, OperationsRequest, ProblemDocument};

/// The shop's own price list, per time that an operation is done.
fn price(operation: OperationsName) -> f64 {
    match operation {
        OperationsName::BoreCylinder => 22.0,
        OperationsName::HoneCylinder => 18.0,
        OperationsName::DeckBlock => 95.0,
        OperationsName::LineHone => 260.0,
        _ => 75.0,
    }
}

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [address, file] = arguments.as_slice() else { return Err("quote <address> <file>".into()) };
    let service = Configuration { base_path: address.clone(), ..Configuration::new() };
    let request: OperationsRequest = serde_json::from_str(&std::fs::read_to_string(file)?)?;

    let answer = builds_operations(&service, request.clone()).await?;
    let mut total = 0.0;
    for line in &answer.operations {
        let amount = price(line.operation) * f64::from(line.count);
        total += amount;
        println!("{} {:?} {:?} x {}: {amount:.2}", line.sequence, line.operation, line.place, line.count);
    }
    println!("total {total:.2} for {} lines", answer.operations.len());
    for caution in &answer.cautions {
        println!("caution {}", caution.code);
    }

    let mut wrong = request;
    wrong.plan.bore = Some(Box::new(LengthInput::String("4,03".to_owned())));
    let Err(Error::ResponseError(refused)) = builds_operations(&service, wrong).await else {
        return Err("it was not refused".into());
    };
    // The generator's types of refusal are all alike; the document says which it is.
    let problem: ProblemDocument = serde_json::from_str(&refused.content)?;
    for fault in problem.errors.unwrap_or_default() {
        println!("refused {} {} {}", problem.status, fault.pointer.unwrap_or_default(), fault.code);
    }
    Ok(())
}
