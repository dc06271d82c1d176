"""Customers: who a commission is for."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from jobs.models import Customer

from .base import Actor, Refused, changes, record


def check_name(name: str) -> str:
    name = name.strip()
    if not name or len(name) > 80:
        raise Refused("Say whom it is for, in at most 80 letters.", "customer")
    return name


@transaction.atomic
def customer_named(name: str, *, by: Actor, at: datetime) -> Customer:
    """The customer of that name, however it is capitalized; made where there is none."""
    name = check_name(name)
    there = Customer.objects.filter(name__iexact=name).first()
    if there is None:
        there, new = Customer.objects.get_or_create(name=name)
        if new:
            record("added", there, by=by, at=at, after={"name": name})
    return there


@transaction.atomic
def fill_in(customer: Customer, *, phone: str = "", email: str = "", by: Actor, at: datetime) -> Customer:
    """What was said about a customer when a job was entered, where nothing is known yet; what is known stays."""
    return change_customer(
        customer,
        contact=customer.contact,
        email=customer.email or email.strip(),
        phone=customer.phone or phone.strip(),
        address=customer.address,
        notes=customer.notes,
        by=by,
        at=at,
    )


@transaction.atomic
def change_customer(
    customer: Customer,
    *,
    contact: str,
    email: str,
    phone: str,
    address: str,
    notes: str,
    by: Actor,
    at: datetime,
) -> Customer:
    """How a customer is reached."""
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    if len(contact) > 80:
        raise Refused("At most 80 letters.", "contact")
    if len(phone) > 40:
        raise Refused("At most 40 letters.", "phone")
    if email:
        try:
            validate_email(email)
        except ValidationError:
            raise Refused(f"“{email}” is no address for mail.", "email") from None
    values = {"contact": contact, "email": email, "phone": phone, "address": address, "notes": notes}
    before, after = changes(customer, values)
    if after:
        for key, value in after.items():
            setattr(customer, key, value)
        customer.save(update_fields=list(after))
        record("changed", customer, by=by, at=at, before=before, after=after)
    return customer
